package tables

import (
	"encoding/xml"
	"fmt"
	"io"
	"strconv"

	"earstone/programme/date"
	"earstone/programme/record"
	"earstone/programme/species"
)

// The parts of a Darwin Core archive (TDWG, Darwin Core text guide) that a programme has:
// one occurrence a fish, and what was measured on it. The programme's own tables lie
// beside them, so that the archive holds all of it; import reads those.
const (
	occurrenceFile  = "occurrence.txt"
	measurementFile = "measurementorfact.txt"
	dwcTerms        = "http://rs.tdwg.org/dwc/terms/"
)

var occurrenceTerms = []string{"occurrenceID", "basisOfRecord", "catalogNumber", "scientificName", "vernacularName", "eventDate",
	"eventID", "samplingProtocol", "locality", "locationID", "individualCount", "sex", "recordedBy", "occurrenceRemarks"}

var measurementTerms = []string{"measurementType", "measurementValue", "measurementUnit", "measurementAccuracy",
	"measurementMethod", "measurementDeterminedBy", "measurementDeterminedDate"}

// writeDarwinCore writes the archive as a folder.
func (f Folder) writeDarwinCore(book *record.Book, counts Counts) error {
	if err := writeProgramme(f.Write, book, counts); err != nil {
		return err
	}
	if err := f.Write(occurrenceFile, func(to io.Writer) error { return writeOccurrences(to, book) }); err != nil {
		return err
	}
	if err := f.Write(measurementFile, func(to io.Writer) error { return writeMeasurements(to, book) }); err != nil {
		return err
	}
	if err := f.Write("meta.xml", writeMeta); err != nil {
		return err
	}
	return f.Write("eml.xml", func(to io.Writer) error { return writeEML(to, book) })
}

// publicArea is the name under which an area may be shown, else its code.
func publicArea(book *record.Book) func(code string) string {
	names := map[string]string{}
	for i := range book.Areas {
		if a := &book.Areas[i]; a.PublicName != "" {
			names[a.Area] = a.PublicName
		}
	}
	return func(code string) string {
		if name, there := names[code]; there {
			return name
		}
		return code
	}
}

func writeOccurrences(to io.Writer, book *record.Book) error {
	w := NewWriter(to)
	w.Row(occurrenceTerms...)
	area := publicArea(book)
	trips := map[record.TripID]*record.Trip{}
	for i := range book.Trips {
		trips[book.Trips[i].Trip] = &book.Trips[i]
	}
	for i := range book.Fish {
		one := book.Fish[i]
		if trip := trips[one.Trip]; trip != nil { // what the fish does not say, its trip does
			if !one.CaughtOn.Known() {
				one.CaughtOn = trip.LandedOn
			}
			one.Area, one.Gear = either(one.Area, trip.Area), either(one.Gear, trip.Gear)
		}
		w.Row(string(one.Fish), "PreservedSpecimen", string(one.Fish), scientificName(one.Species), string(one.Species), one.CaughtOn.String(),
			string(one.Trip), one.Gear, area(one.Area), one.Area, "1", sexWord(one.Sex), one.Contributor, one.Remark)
	}
	return w.Flush()
}

func either(first, second string) string {
	if first != "" {
		return first
	}
	return second
}

// scientificName is that of a species that is known by name, else empty.
func scientificName(code record.Species) string {
	facts, _ := species.Of(code)
	return facts.ScientificName
}

func sexWord(s record.Sex) string {
	switch s {
	case record.Female:
		return "female"
	case record.Male:
		return "male"
	}
	return ""
}

func writeMeasurements(to io.Writer, book *record.Book) error {
	w := NewWriter(to)
	w.Row(append([]string{"occurrenceID"}, measurementTerms...)...)
	row := func(fish record.FishID, what string, value record.Number, unit string, accuracy record.Number, method, by string, on date.Day) {
		if !value.Known {
			return
		}
		w.Text(string(fish))
		w.Text(what)
		w.Number(value)
		w.Text(unit)
		w.Number(accuracy)
		w.Text(method)
		w.Text(by)
		w.Text(on.String())
		w.EndRow()
	}
	for i := range book.Fish {
		f := &book.Fish[i]
		row(f.Fish, "length", f.Length.Value, f.Length.Unit, f.Length.Resolution, f.Length.Kind.String(), "", date.Day{})
		row(f.Fish, "weight", f.Weight, f.WeightUnit, record.Number{}, f.WeightForm.String(), "", date.Day{})
	}
	for i := range book.Stones {
		s := &book.Stones[i]
		row(s.Fish, "otolith mass "+s.Side.String(), s.MassMg, "mg", record.Number{}, s.Condition, "", date.Day{})
	}
	for i := range book.Readings {
		r := &book.Readings[i]
		if r.Annuli >= 0 {
			row(r.Fish, "completed annuli", record.Some(float64(r.Annuli)), "", record.Number{}, "edge "+r.Edge.String(), string(r.Reader), r.ReadAt)
		}
	}
	for i := range book.Assays {
		a := &book.Assays[i]
		row(a.Fish, a.Tracer, a.Value, a.Unit, a.SD, a.Region, "", date.Day{})
	}
	return w.Flush()
}

type (
	metaXML struct {
		XMLName   xml.Name      `xml:"http://rs.tdwg.org/dwc/text/ archive"`
		Metadata  string        `xml:"metadata,attr"`
		Core      metaFileXML   `xml:"core"`
		Extension []metaFileXML `xml:"extension"`
	}
	metaFileXML struct {
		Encoding   string         `xml:"encoding,attr"`
		Fields     string         `xml:"fieldsTerminatedBy,attr"`
		Lines      string         `xml:"linesTerminatedBy,attr"`
		Enclosed   string         `xml:"fieldsEnclosedBy,attr"`
		Header     int            `xml:"ignoreHeaderLines,attr"`
		RowType    string         `xml:"rowType,attr"`
		Location   string         `xml:"files>location"`
		ID         *metaIndexXML  `xml:"id"`
		CoreID     *metaIndexXML  `xml:"coreid"`
		FieldTerms []metaFieldXML `xml:"field"`
	}
	metaIndexXML struct {
		Index int `xml:"index,attr"`
	}
	metaFieldXML struct {
		Index int    `xml:"index,attr"`
		Term  string `xml:"term,attr"`
	}
)

func writeMeta(to io.Writer) error {
	part := func(location, rowType string, terms []string, from int) metaFileXML {
		m := metaFileXML{Encoding: "UTF-8", Fields: ",", Lines: `\n`, Enclosed: `"`, Header: 1, RowType: dwcTerms + rowType, Location: location}
		for i, term := range terms {
			m.FieldTerms = append(m.FieldTerms, metaFieldXML{from + i, dwcTerms + term})
		}
		return m
	}
	core := part(occurrenceFile, "Occurrence", occurrenceTerms, 0)
	core.ID = &metaIndexXML{0}
	more := part(measurementFile, "MeasurementOrFact", measurementTerms, 1)
	more.CoreID = &metaIndexXML{0}
	return writeXML(to, metaXML{Metadata: "eml.xml", Core: core, Extension: []metaFileXML{more}})
}

type emlXML struct {
	XMLName  xml.Name `xml:"eml:eml"`
	Space    string   `xml:"xmlns:eml,attr"`
	Package  string   `xml:"packageId,attr"`
	System   string   `xml:"system,attr"`
	Title    string   `xml:"dataset>title"`
	Creator  string   `xml:"dataset>creator>organizationName"`
	Abstract string   `xml:"dataset>abstract>para"`
	Contact  string   `xml:"dataset>contact>organizationName"`
}

func writeEML(to io.Writer, book *record.Book) error {
	return writeXML(to, emlXML{Space: "https://eml.ecoinformatics.org/eml-2.2.0", Package: "earstone", System: "earstone",
		Title: book.Settings.Name, Creator: book.Settings.Name, Contact: book.Settings.Name, Abstract: strconv.Itoa(len(book.Fish)) + " fish with ear stones, of which " +
			strconv.Itoa(len(book.Readings)) + " readings were made. Areas are coarse by intent; contributors stand by their codes."})
}

func writeXML(to io.Writer, value any) error {
	if _, err := io.WriteString(to, xml.Header); err != nil {
		return err
	}
	e := xml.NewEncoder(to)
	e.Indent("", "  ")
	if err := e.Encode(value); err != nil {
		return fmt.Errorf("writing XML: %w", err)
	}
	_, err := io.WriteString(to, "\n")
	return err
}
