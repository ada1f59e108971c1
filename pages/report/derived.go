package report

// derivedSay tells of the fish whose length was derived from their weight; empty: none.
func (k *told) derivedSay() string {
	outside, bare := 0, 0
	for _, d := range k.s.Derived {
		if d.Extrapolated {
			outside++
		}
		if !d.SD.Known {
			bare++
		}
	}
	if len(k.s.Derived) == 0 {
		return ""
	}
	says := say("lengths.derived", "fish", counted("fishWere", len(k.s.Derived)))
	if outside > 0 {
		says = join(says, say("lengths.derived.outside", "fish", counted("fishAre", outside)))
	}
	if bare > 0 {
		says = join(says, say("lengths.derived.nosd", "fish", counted("fish", bare)))
	}
	return says
}
