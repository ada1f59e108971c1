package label_test

import (
	"fmt"

	"earstone/programme/label"
)

func Example() {
	code, _ := label.New("QB", 412)
	fmt.Println(code)
	r := label.Parse("qb oo412 t")
	fmt.Println(r.Code, r.Remark, r.Sign, "as", r.As)
	r = label.Parse("QB-00421-T")
	fmt.Println(r.Remark, r.Near)
	// Output:
	// QB-00412-T
	// QB-00412-T look_alike O as 0
	// wrong_check [QB-00412-T]
}
