package age

import (
	"cmp"
	"slices"

	"earstone/programme/record"
)

// Opinion is what the last reading by one qualified reader says of a fish on one day.
type Opinion struct {
	Reader  record.ReaderID
	Annuli  int
	Age     Age
	Trouble Trouble // None, or why the reading can't be
}

// Agreed is the age that a programme settles on.
type Agreed struct {
	Class   Class         // NoClass when there is none
	Cohort  int           // 0 when there is none
	Decimal record.Number // years
	Annuli  record.Number // the median of the counts may lie between two rings
	Towards bool          // a tie went towards the reader listed first
	Trouble Trouble       // None, NotRead, Unresolved, or that of a reading that can't be
}

// Agree settles the age of a fish from the last reading by each qualified reader, the
// opinions standing in the programme's order of readers.
//
//	median  the middle age class of those in order; of an even number the mean of the
//	        two middle ones, a tie when that is no whole number
//	expert  the class of the named reader; the others are not asked
//	mode    the class read most often, a tie when several are
//
// A tie is Unresolved with reread: the fish stays out until it has been read again.
// With lower_reader the median is rounded towards the class of the reader listed
// first, and the mode goes to the tied class that the reader listed first among those
// who gave a tied class read.
//
// The decimal age is the mean of the two middle ones (median; half a year up or down
// with a tie), the named reader's, or the median of those of the class settled on
// (mode); it fits the class. Annuli is the median of the counts asked (mode: of those
// of the class) and may lie between two rings.
//
// Nobody asked gives NotRead. One reading that the rule would use and that can't be
// keeps the fish out with its trouble: it wants reading again, and the others are no
// reason to pass over it.
//
// Methods, section 2, "Agreed age".
func Agree(rule record.AgreedAge, opinions []Opinion) Agreed {
	asked := slices.Clone(opinions) // in the order of readers at first
	if rule.Rule == "expert" {
		asked = slices.DeleteFunc(asked, func(o Opinion) bool { return o.Reader != rule.Expert })
	}
	if len(asked) == 0 {
		return Agreed{Class: NoClass, Trouble: NotRead}
	}
	for _, o := range asked {
		if o.Trouble != None {
			return Agreed{Class: NoClass, Annuli: middle(asked), Trouble: o.Trouble}
		}
	}
	first := asked[0].Age.Class
	slices.SortStableFunc(asked, func(a, b Opinion) int {
		return cmp.Or(cmp.Compare(a.Age.Class, b.Age.Class), cmp.Compare(a.Age.Decimal, b.Age.Decimal))
	})
	if rule.Rule == "mode" {
		return mode(asked, opinions, rule.Tie == "lower_reader")
	}
	return median(asked, first, rule.Tie == "lower_reader")
}

// median settles on the middle of the readings, which stand in order of age.
func median(asked []Opinion, first Class, towards bool) Agreed {
	low, high := asked[(len(asked)-1)/2].Age, asked[len(asked)/2].Age
	twice, decimal := low.Class+high.Class, (low.Decimal+high.Decimal)/2
	agreed := Agreed{Class: twice / 2, Annuli: middle(asked)}
	if twice%2 == 1 {
		if !towards {
			return Agreed{Class: NoClass, Annuli: agreed.Annuli, Trouble: Unresolved}
		}
		agreed.Towards = true
		if decimal -= 0.5; 2*first > twice {
			decimal++
			agreed.Class++
		}
	}
	agreed.Decimal = record.Some(decimal)
	agreed.Cohort = low.Cohort + int(low.Class-agreed.Class) // on one day class + cohort is the same for all
	return agreed
}

// mode settles on the class read most often. asked stands in order of age, opinions
// in that of the readers.
func mode(asked, opinions []Opinion, towards bool) Agreed {
	most, tied := 0, 0 // how often, and readings of all classes read that often
	for _, o := range asked {
		switch n := len(ofClass(asked, o.Age.Class)); {
		case n > most:
			most, tied = n, 1
		case n == most:
			tied++
		}
	}
	isMode := func(o Opinion) bool { return len(ofClass(asked, o.Age.Class)) == most }
	if tied > most && !towards {
		return Agreed{Class: NoClass, Annuli: middle(asked), Trouble: Unresolved}
	}
	chosen := ofClass(asked, opinions[slices.IndexFunc(opinions, isMode)].Age.Class)
	low, high := chosen[(len(chosen)-1)/2].Age, chosen[len(chosen)/2].Age
	return Agreed{
		Class: low.Class, Cohort: low.Cohort, Decimal: record.Some((low.Decimal + high.Decimal) / 2),
		Annuli: middle(chosen), Towards: tied > most,
	}
}

// ofClass is the run of one class in readings that stand in order of age.
func ofClass(asked []Opinion, c Class) []Opinion {
	from, to := 0, len(asked)
	for from < to && asked[from].Age.Class != c {
		from++
	}
	for to > from && asked[to-1].Age.Class != c {
		to--
	}
	return asked[from:to]
}

// middle is the median count of annuli.
func middle(asked []Opinion) record.Number {
	counts := make([]int, len(asked))
	for i, o := range asked {
		counts[i] = o.Annuli
	}
	slices.Sort(counts)
	n := len(counts)
	return record.Some(float64(counts[(n-1)/2]+counts[n/2]) / 2)
}
