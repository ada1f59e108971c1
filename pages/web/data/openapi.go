package data

import "earstone/store/tables"

// The description follows OpenAPI 3.1, https://spec.openapis.org/oas/v3.1.0, as far as it
// is needed here.
type (
	description struct {
		OpenAPI    string                `json:"openapi"`
		Info       info                  `json:"info"`
		Security   []map[string][]string `json:"security"`
		Paths      map[string]item       `json:"paths"`
		Components components            `json:"components"`
	}
	info struct {
		Title       string `json:"title"`
		Version     string `json:"version"`
		Description string `json:"description"`
	}
	item struct {
		Get operation `json:"get"`
	}
	operation struct {
		OperationID string              `json:"operationId"`
		Summary     string              `json:"summary"`
		Parameters  []parameter         `json:"parameters,omitempty"`
		Responses   map[string]response `json:"responses"`
	}
	parameter struct {
		Name        string `json:"name"`
		In          string `json:"in"`
		Required    bool   `json:"required"`
		Description string `json:"description"`
		Schema      schema `json:"schema"`
	}
	response struct {
		Ref         string             `json:"$ref,omitempty"`
		Description string             `json:"description,omitempty"`
		Content     map[string]content `json:"content,omitempty"`
	}
	content struct {
		Schema schema `json:"schema"`
	}
	schema struct {
		Type       string            `json:"type,omitempty"`
		Enum       []string          `json:"enum,omitempty"`
		Format     string            `json:"format,omitempty"`
		Items      *schema           `json:"items,omitempty"`
		Properties map[string]schema `json:"properties,omitempty"`
	}
	components struct {
		Responses       map[string]response `json:"responses"`
		SecuritySchemes map[string]scheme   `json:"securitySchemes"`
	}
	scheme struct {
		Type        string `json:"type"`
		Scheme      string `json:"scheme"`
		Description string `json:"description"`
	}
)

// describe is the description of every address of this package but that of the page for
// people.
func (p *Page) describe() description {
	form := parameter{"form", "path", true, "How the table is written. An unknown cell is empty, null or null.", schema{Type: "string", Enum: tables.Forms()}}
	table := parameter{"table", "path", true, "A table of the programme.", schema{Type: "string", Enum: tables.Names()}}
	result := parameter{"table", "path", true, "A table of the run; runs.json lists those of each run.", schema{Type: "string"}}
	run := parameter{"run", "path", true, "The id of a run that is done, or latest.", schema{Type: "string"}}
	return description{
		OpenAPI:  "3.1.0",
		Info:     info{p.programme, "1", "The records of the programme as they are now, and the results of its runs. Everything here is read and nothing is changed."},
		Security: []map[string][]string{{"token": {}}},
		Paths: map[string]item{
			"/data/openapi.json":              {operation{"description", "This description.", nil, answers(text("application/json", schema{Type: "object"}))}},
			"/data/{table}.{form}":            {operation{"table", "One table of the programme, whole.", []parameter{table, form}, answers(rows())}},
			"/data/runs.json":                 {operation{"runs", "The runs that have results, the newest first.", nil, answers(text("application/json", listOfRuns()))}},
			"/data/runs/{run}/{table}.{form}": {operation{"result", "One table of a run, whole.", []parameter{run, result, form}, answers(rows())}},
		},
		Components: components{
			Responses: map[string]response{
				"refused": {Description: "There is no token, or it was withdrawn; or nothing of this name is here.",
					Content: text("application/json", schema{Type: "object", Properties: map[string]schema{"says": {Type: "string"}, "do": {Type: "string"}}})},
			},
			SecuritySchemes: map[string]scheme{"token": {"http", "bearer", "An administrator gives tokens on the page People, and withdraws them there."}},
		},
	}
}

func answers(told map[string]content) map[string]response {
	refused := response{Ref: "#/components/responses/refused"}
	return map[string]response{"200": {Description: "All of it.", Content: told}, "401": refused, "404": refused}
}

func text(kind string, s schema) map[string]content { return map[string]content{kind: {s}} }

// rows are a table in each of its forms.
func rows() map[string]content {
	return map[string]content{
		"text/csv":         {schema{Type: "string"}},
		"application/json": {schema{Type: "array", Items: &schema{Type: "object"}}},
		media["parquet"]:   {schema{Type: "string", Format: "binary"}},
	}
}

func listOfRuns() schema {
	text, list := schema{Type: "string"}, schema{Type: "array", Items: &schema{Type: "string"}}
	at := schema{Type: "string", Format: "date-time"}
	return schema{Type: "array", Items: &schema{Type: "object", Properties: map[string]schema{"id": text, "asked": {Type: "object"}, "by": text, "begun": at, "ended": at, "tables": list}}}
}
