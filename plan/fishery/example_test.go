package fishery_test

import (
	"fmt"

	"earstone/plan/fishery"
	"earstone/programme/strata"
)

// A season is a programme like any other, but for what else is known of it.
func Example() {
	settings, err := fishery.Sized("small")
	if err != nil {
		fmt.Println(err)
		return
	}
	settings.Readers = []fishery.Reader{{ID: "R1"}, {ID: "R2", CV: 0.1}} // the first never errs
	settings.Readings = 2 * settings.Aged

	invented := fishery.New(settings, 1)
	season := invented.Season(0) // another sampling of the same truth: Season(1)
	book, _ := season.Book()
	fmt.Println(book.Settings.Name, len(book.Trips), len(book.Readings), len(book.Assays))

	truth := season.Truth()
	first := func(c strata.Cell) bool { return c == truth.Strata[0] }
	sum := 0.0
	for _, n := range truth.Total(first) {
		sum += n
	}
	fmt.Printf("%v: %t\n", truth.Strata[0], sum > truth.Number[0]-1e-6 && sum < truth.Number[0]+1e-6)
	// Output:
	// Quarrow Banks ear-stone programme 60 1200 784
	// 2031 Q1 Quarrow line: true
}
