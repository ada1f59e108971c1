package tables

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"earstone/programme/record"
)

// field and what holds it describe a table in datapackage.json.
type (
	field struct {
		Name        string       `json:"name"`
		Type        string       `json:"type"`
		Constraints *constraints `json:"constraints,omitempty"`
	}
	constraints struct {
		Required bool `json:"required"`
	}
	resourceJSON struct {
		Name     string     `json:"name"`
		Path     string     `json:"path"`
		Format   string     `json:"format"`
		Encoding string     `json:"encoding"`
		Schema   schemaJSON `json:"schema"`
	}
	schemaJSON struct {
		Fields []field `json:"fields"`
	}
	packageJSON struct {
		Schema    string         `json:"$schema"`
		Name      string         `json:"name"`
		Title     string         `json:"title"`
		Resources []resourceJSON `json:"resources"`
	}
)

func (t table[T]) fields(extra []string) []field {
	var all []field
	for _, c := range t.columns {
		f := field{Name: c.name, Type: c.kind}
		if c.want == needed {
			f.Constraints = &constraints{Required: true}
		}
		all = append(all, f)
	}
	for _, name := range extra {
		all = append(all, field{Name: name, Type: "string"})
	}
	return all
}

// WriteProgramme writes a whole programme into an existing folder: programme.json, every
// table that holds something, lengths.csv in any case, and datapackage.json. A table of
// which the book holds nothing is not there afterwards. The length counts are drawn one
// by one from lengths; the pointer that it yields is used at once.
func WriteProgramme(dir string, book *record.Book, lengths func(yield func(*record.LengthCount) error) error) error {
	for _, table := range held {
		if table.vacant(book) {
			if err := os.Remove(filepath.Join(dir, table.title()+".csv")); err != nil && !errors.Is(err, fs.ErrNotExist) {
				return fmt.Errorf("removing an earlier table: %w", err)
			}
		}
	}
	return writeProgramme(Folder(dir).Write, book, lengths)
}

func writeProgramme(file func(name string, fill func(io.Writer) error) error, book *record.Book, counts func(yield func(*record.LengthCount) error) error) error {
	settings, err := SettingsJSON(book.Settings)
	if err != nil {
		return err
	}
	if err := file("programme.json", asItIs(settings)); err != nil {
		return err
	}
	about := packageJSON{Schema: "https://datapackage.org/profiles/2.0/datapackage.json", Name: "programme", Title: book.Settings.Name}
	describe := func(name string, fields []field) {
		about.Resources = append(about.Resources, resourceJSON{name, name + ".csv", "csv", "utf-8", schemaJSON{fields}})
	}
	for _, table := range held {
		if table.vacant(book) {
			continue // a missing table is an empty one
		}
		describe(table.title(), table.fields(book.ExtraColumns[table.title()]))
		err := file(table.title()+".csv", func(out io.Writer) error { return table.write(NewWriter(out), book) })
		if err != nil {
			return err
		}
	}
	extra := book.ExtraColumns[lengths.name]
	describe(lengths.name, lengths.fields(extra))
	if err := file(lengths.name+".csv", func(out io.Writer) error { return writeLengths(NewWriter(out), extra, counts) }); err != nil {
		return err
	}
	described, err := indented(about, "datapackage.json")
	if err != nil {
		return err
	}
	return file("datapackage.json", asItIs(described))
}

// asItIs writes a content that is there already.
func asItIs(content []byte) func(io.Writer) error {
	return func(to io.Writer) error {
		_, err := to.Write(content)
		return err
	}
}

func writeLengths(w *Writer, extra []string, counts func(yield func(*record.LengthCount) error) error) error {
	lengths.writeHeader(w, extra)
	if counts != nil {
		err := counts(func(one *record.LengthCount) error {
			lengths.writeRow(w, one, len(extra))
			return nil
		})
		if err != nil {
			return fmt.Errorf("drawing length counts: %w", err)
		}
	}
	return w.Flush()
}
