package age_test

import (
	"fmt"

	"earstone/programme/date"
	"earstone/programme/record"
	"earstone/reading/age"
)

// A ring forms on 30 November, give or take 30 days, first half a year after birth. On
// 10 November one reader sees three rings and wide growth outside the last, another
// counts the ring that is just forming: both read the same year class.
func ExampleOf() {
	birth, _ := date.ParseAnniversary("06-01")
	ring, _ := date.ParseAnniversary("11-30")
	calendar := record.Calendar{BirthDay: birth, AnnulusDay: ring, AnnulusWindowDays: 30, FirstAnnulusAge: 0.5}
	caught := date.On(2020, 11, 10)

	late, _ := age.Of(calendar, age.January, caught, 3, record.Wide)
	early, _ := age.Of(calendar, age.January, caught, 4, record.Narrow)
	fmt.Printf("%.4f years, cohort %d, class %d, last ring %s\n", late.Decimal, late.Cohort, late.Class, late.Formed)
	fmt.Printf("%.4f years, cohort %d, class %d, last ring %s\n", early.Decimal, early.Cohort, early.Class, early.Formed)
	// Output:
	// 3.4473 years, cohort 2017, class 3, last ring 2019-11-30
	// 3.4452 years, cohort 2017, class 3, last ring 2020-11-30
}

func ExampleReadings() {
	birth, _ := date.ParseAnniversary("06-01")
	calendar := record.Calendar{BirthDay: birth, AnnulusDay: birth, AnnulusWindowDays: 30, FirstAnnulusAge: 1}
	caught, _ := date.Parse("2032")
	joints, _ := age.Readings(calendar, age.January, caught, []age.Read{{Annuli: 4, Edge: record.Partial}, {Annuli: 5, Edge: record.Partial}})
	for _, j := range joints {
		fmt.Printf("%.3f of the year: classes %d and %d\n", j.Share, j.Ages[0].Class, j.Ages[1].Class)
	}
	// Output:
	// 0.415 of the year: classes 5 and 6
	// 0.585 of the year: classes 4 and 5
}

func ExampleAgree() {
	opinion := func(reader record.ReaderID, class int) age.Opinion {
		return age.Opinion{Reader: reader, Annuli: class, Age: age.Age{Decimal: float64(class), Cohort: 2031 - class, Class: age.Class(class)}}
	}
	three := age.Agree(record.AgreedAge{Rule: "median", Tie: "reread"}, []age.Opinion{opinion("ada", 4), opinion("ben", 6), opinion("cleo", 5)})
	two := age.Agree(record.AgreedAge{Rule: "median", Tie: "reread"}, []age.Opinion{opinion("ada", 4), opinion("ben", 5)})
	fmt.Println(three.Class, three.Cohort)
	fmt.Println(two.Trouble)
	// Output:
	// 5 2026
	// unresolved
}
