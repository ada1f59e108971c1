package main

import (
	"errors"
	"strings"

	"earstone/pages/words"
	"earstone/store/backup"
	"earstone/store/history"
)

// damageObject is a damage as JSON.
type damageObject struct {
	What     string `json:"what"`
	Position int64  `json:"position,omitempty"`
	Entry    string `json:"entry,omitempty"`
	Kind     string `json:"kind,omitempty"`
	Label    string `json:"label,omitempty"`
	How      string `json:"how"`
}

// damage tells all damage; found when there is any.
func (to *output) damage(all []history.Damage) (status, error) {
	for _, d := range all {
		if !to.json {
			to.say("damaged: %s", damageLine(d))
			continue
		}
		if err := to.object(damageObject{d.What, d.Position, d.Entry.String(), string(d.Kind), d.Label, d.How}); err != nil {
			return failed, err
		}
	}
	if len(all) > 0 {
		return found, nil
	}
	return done, nil
}

// damageLine is "entry 812 (fish QB-00412): it is not as it was written".
func damageLine(d history.Damage) string {
	said := d.What
	if d.Position > 0 {
		said += " " + words.Count(int(d.Position))
	}
	if which := strings.TrimSpace(string(d.Kind) + " " + d.Label); which != "" {
		said += " (" + which + ")"
	}
	return said + ": " + d.How
}

// damaged tells the damage that an error carries, if it is of that kind.
func (to *output) damaged(err error) (ended status, told bool) {
	var d *backup.Damaged
	if !errors.As(err, &d) {
		return done, false
	}
	if ended, err = to.damage(d.Damage); err != nil {
		return failed, true
	}
	return ended, true
}
