package words

import (
	"strings"

	"earstone/programme/label"
)

// Label says how a typed or scanned label was read, or why it could not be.
func (p *Printed) Label(r label.Reading) string {
	key := "label." + r.Remark.String()
	if r.Remark == label.WrongCheck && len(r.Near) > 0 {
		key = "label.swapped"
	}
	var near []string
	for _, c := range r.Near {
		near = append(near, c.String())
	}
	return p.Say(key, "code", r.Code.String(), "sign", oneLine(r.Sign), "as", r.As, "near", strings.Join(near, ", "),
		"letters", label.Letters, "example", "QB-00412-T", "most", p.Number(label.LargestNumber, 0))
}
