package tables_test

import (
	"fmt"
	"os"
	"testing/fstest"

	"earstone/pages/words"
	"earstone/programme/record"
	"earstone/store/tables"
)

func ExampleOpenFS() {
	source, err := tables.OpenFS(fstest.MapFS{
		"programme.json": {Data: []byte(`{"name": "Quarrow Banks", "species": ["BFT"]}`)},
		"fish.csv": {Data: []byte("fish,species,caught_on,length,length_unit,length_kind\n" +
			"EB-1,BFT,2031-06-15,2l4,cm,curved_fork\nEB-2,BFT,2031-06,198.5,cm,curved_fork\n")},
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	defer source.Close()
	book, err := source.Book()
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, f := range book.Fish {
		fmt.Println(f.Fish, f.CaughtOn, f.Length.Value)
	}
	for _, f := range source.Findings().All() {
		fmt.Println(words.Line(f))
	}
	// Output:
	// EB-1 2031-06-15 {0 false}
	// EB-2 2031-06 {198.5 true}
	// fish.csv, row 2, length: "2l4" is not a number. Was 214 meant? The second sign is the letter l.
}

func ExampleWriter() {
	w := tables.NewWriter(os.Stdout)
	w.Row("area", "age", "value")
	w.Text("Skell, outer bank")
	w.Int(4)
	w.Number(record.Some(0.1))
	w.EndRow()
	if err := w.Flush(); err != nil {
		fmt.Println(err)
	}
	// Output:
	// area,age,value
	// "Skell, outer bank",4,0.1
}
