package sitting

// Sheet is all that a reader's browser is sent of a turn. It has no field for the
// fish's length or weight, for a day or a place, for other counts, for whether it is a
// control, nor for a code under which any of these could be found; a test holds it to
// that. Whatever else a page wants to show while a count is made has to be added here, under
// that test.
type Sheet struct {
	Ticket        string  `json:"ticket"`     // the picture's tiles are asked for by it
	Number        int     `json:"number"`     // of this turn, from 1
	Of            int     `json:"of"`         // turns in the sitting
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

// Shown is what is known of a picture that may be shown.
type Shown struct {
	Width, Height int
	UmPerPixel    float64 // 0: unknown
	Bright        bool
}

// Sheet is what is sent for a ticket where a sitting stands; false when the ticket is of another
// sitting.
func (s Sitting) Sheet(ticket string, at State, picture Shown, offers []Offer) (Sheet, bool) {
	if _, known := s.Find(ticket); !known {
		return Sheet{}, false
	}
	return Sheet{
		Ticket: ticket, Number: at.Number, Of: at.Of,
		PictureWidth: picture.Width, PictureHeight: picture.Height,
		UmPerPixel: picture.UmPerPixel, Bright: picture.Bright, Offers: offers,
	}, true
}
