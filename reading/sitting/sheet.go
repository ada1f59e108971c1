package sitting

import "slices"

// Sheet is all that a reader's browser is sent of a turn. It has no field for the
// fish's length or weight, for a day or a place, for other counts, for whether it is a
// control, nor for a code under which any of these could be found; a test holds it to
// that. Whatever else a page wants to show while a count is made has to be added here, under
// that test.
type Sheet struct {
	Ticket        string  `json:"ticket"`     // the picture's tiles are asked for by it
	Number        int     `json:"number"`     // of this turn, from 1
	Of            int     `json:"of"`         // turns in the sitting
	Slot          int     `json:"slot"`       // of the tray under the microscope, from 1: the order in which turns were dealt
	PictureWidth  int     `json:"width"`      // pixels
	PictureHeight int     `json:"height"`     // pixels
	UmPerPixel    float64 `json:"umPerPixel"` // 0: unknown
	Bright        bool    `json:"bright"`     // annuli are brighter than what lies between
	Offers        []Offer `json:"offers"`     // suggested annuli, when the programme shows any
}

// Offer is one suggested annulus, to be taken or refused.
type Offer struct {
	X          float64 `json:"x"` // pixels of the picture
	Y          float64 `json:"y"`
	Confidence float64 `json:"confidence"` // 0 to 1
}

// Along is what a reader's browser is sent of an axis that the reader drew: its curve, the
// brightness along it, and the annuli that are offered on it.
type Along struct {
	Step   float64   `json:"step"` // pixels from one value to the next
	X      []float64 `json:"x"`    // of the curve at each value, pixels of the picture
	Y      []float64 `json:"y"`
	Light  []float64 `json:"light"` // 0 to 1
	Offers []Offer   `json:"offers"`
}

// Shown is what is known of a picture that may be shown.
type Shown struct {
	Width, Height int
	UmPerPixel    float64 // 0: unknown
	Bright        bool
}

// Sheet is what is sent for a ticket where a sitting stands; false when the ticket is of another
// sitting.
func (s Sitting) Sheet(ticket string, at State, picture Shown, offers []Offer) (Sheet, bool) {
	slot := slices.IndexFunc(s.Turns, func(t Turn) bool { return t.Ticket == ticket })
	if slot < 0 {
		return Sheet{}, false
	}
	return Sheet{
		Ticket: ticket, Number: at.Number, Of: at.Of, Slot: slot + 1,
		PictureWidth: picture.Width, PictureHeight: picture.Height,
		UmPerPixel: picture.UmPerPixel, Bright: picture.Bright, Offers: offers,
	}, true
}
