package main

import (
	"context"

	"earstone/pages/words"
	"earstone/store/backup"
)

// backupTakes are the arguments of backup.
type backupTakes struct {
	Src string `arg:"" name:"SRC" help:"The programme: a folder made by earstone new. It may be served meanwhile."`
	Out string `arg:"" name:"OUT" help:"The folder of the backup; it must not be there yet. A disk of its own is best."`
}

func backupCommand() command {
	var in backupTakes
	return command{
		name:    "backup",
		does:    "Copy a programme, records and pictures, and prove the copy.",
		example: "earstone backup quarrow-banks /media/disk/quarrow-2031-06-02",
		takes:   &in,
		run:     func(ctx context.Context, to *output) (status, error) { return in.copy(ctx, to) },
	}
}

func (in *backupTakes) copy(ctx context.Context, to *output) (status, error) {
	proof, err := backup.Make(ctx, in.Src, in.Out, to.clock(), to.told())
	if err != nil {
		return failed, err
	}
	to.say("%s holds all %s, and is whole. Accounts are not in it.", in.Out, plural(proof.Entries, "entry", "entries"))
	return done, nil
}

// restoreTakes are the arguments of restore.
type restoreTakes struct {
	Backup string `arg:"" name:"BACKUP" help:"A folder that earstone backup wrote."`
	Dir    string `arg:"" name:"DIR" help:"The folder of the programme; it must not be there yet."`
}

func restoreCommand() command {
	var in restoreTakes
	return command{
		name:    "restore",
		does:    "Make a programme anew from a backup that proves whole.",
		example: "earstone restore /media/disk/quarrow-2031-06-02 quarrow-banks",
		takes:   &in,
		run:     func(ctx context.Context, to *output) (status, error) { return in.restore(ctx, to) },
	}
}

func (in *restoreTakes) restore(ctx context.Context, to *output) (status, error) {
	proof, err := backup.Restore(ctx, in.Backup, in.Dir, to.told())
	if ended, told := to.damaged(err); told {
		to.say("Nothing was made of it. What is whole can still be read: earstone export %s tables", in.Backup)
		return ended, nil
	}
	if err != nil {
		return failed, err
	}
	to.say("%s is back with %s. Accounts are made anew on its page People.", in.Dir, plural(proof.Entries, "entry", "entries"))
	return done, nil
}

// verifyTakes are the arguments of verify.
type verifyTakes struct {
	Src  string `arg:"" name:"SRC" help:"A programme that earstone new made, or a backup of one."`
	JSON bool   `help:"Print one JSON object a damage, and no progress."`
}

func verifyCommand() command {
	var in verifyTakes
	return command{
		name:    "verify",
		does:    "Prove every record and every picture against its hash.",
		example: "earstone verify quarrow-banks",
		takes:   &in,
		run:     func(ctx context.Context, to *output) (status, error) { return in.verify(ctx, to) },
	}
}

func (in *verifyTakes) verify(ctx context.Context, to *output) (status, error) {
	to.json = in.JSON
	report, err := backup.Verify(ctx, in.Src, to.told())
	if err != nil {
		return failed, err
	}
	ended, err := to.damage(report.Damage())
	if err != nil || to.json {
		return ended, err
	}
	to.say("%s of %s whole, %s of %s.", words.Count(report.Records.Whole), plural(report.Records.Entries, "entry", "entries"),
		words.Count(report.Whole), plural(report.Pictures, "picture", "pictures"))
	if ended == done {
		to.say("All is as it was written. Chain of entries: %s", report.Records.Head)
	} else {
		to.say("Leave the folder as it is, and bring a backup back into another: earstone restore BACKUP DIR")
	}
	return ended, nil
}
