package run

import (
	"slices"

	"earstone/reading/age"
	"earstone/reading/ageerror"
)

// readers fits the ageing error of every reader to the classes that the readings gave.
// Classes, not counts: what a key needs is the error of the age class, and one fish read
// early or late around its annulus day keeps its class whatever was counted.
func (c *chain) readers(s *Species) {
	data := ageerror.Data{Readers: len(c.outcome.Readers)}
	youngest := -1
	for i := range s.Ages {
		for _, v := range s.Ages[i].Variants {
			pattern := ageerror.Pattern{N: v.Share, Known: -1}
			if s.Ages[i].Flags&age.Known != 0 {
				pattern.Known = int(v.Class)
			}
			for _, class := range v.Classes {
				pattern.Counts = append(pattern.Counts, int16(max(class, -1)))
			}
			for _, class := range append(slices.Clone(v.Classes), age.Class(pattern.Known)) {
				if class < 0 {
					continue
				}
				data.Oldest = max(data.Oldest, int(class))
				if youngest < 0 || int(class) < youngest {
					youngest = int(class)
				}
			}
			data.Patterns = append(data.Patterns, pattern)
		}
	}
	data.First, data.Ages = max(youngest, 0), data.Oldest-max(youngest, 0)+1
	fit, err := ageerror.Estimate(data, ageerror.Settings{})
	if err != nil {
		s.NoErrors = err
	} else {
		s.Errors = &fit
	}
	c.stage("ageing error")
}
