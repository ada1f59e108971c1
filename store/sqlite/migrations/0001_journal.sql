-- The journal of entries, and what is derived from it to find records by.

CREATE TABLE journal (
	position   INTEGER PRIMARY KEY,      -- the order in which entries came here
	id         BLOB    NOT NULL UNIQUE,
	kind       TEXT    NOT NULL,
	subject    BLOB    NOT NULL,
	supersedes BLOB    NOT NULL,         -- 16 bytes each
	who        TEXT    NOT NULL,
	written_at INTEGER NOT NULL,         -- microseconds since 1970, UTC
	import     BLOB    NOT NULL,         -- of zeros when it came with no file
	row        INTEGER NOT NULL,
	payload    TEXT,                     -- JSON: fields, raw, salt, why; NULL: removed for privacy
	digest     BLOB    NOT NULL,         -- SHA-256 of the payload as it was written
	hash       BLOB    NOT NULL,         -- SHA-256 of the entry
	chain      BLOB    NOT NULL          -- SHA-256 of the chain before and the hash
) STRICT;

CREATE INDEX journal_subject ON journal (subject);

CREATE TABLE current (
	number  INTEGER PRIMARY KEY,         -- of the subject here; no other store knows it
	subject BLOB    NOT NULL UNIQUE,
	kind    TEXT    NOT NULL,
	head    INTEGER NOT NULL,            -- position of the first head
	heads   INTEGER NOT NULL             -- 0: the record was removed; 2 and more: a conflict
) STRICT;

CREATE INDEX current_kind ON current (kind, subject);
CREATE INDEX current_conflict ON current (subject) WHERE heads > 1;

CREATE TABLE lookup (
	kind    TEXT NOT NULL,
	field   TEXT NOT NULL,
	value   TEXT NOT NULL,
	subject BLOB NOT NULL,
	PRIMARY KEY (kind, field, value, subject)
) STRICT, WITHOUT ROWID;

CREATE VIRTUAL TABLE words USING fts5 (text, tokenize = 'unicode61 remove_diacritics 2', prefix = '1 2 3');

INSERT INTO words (words, rank) VALUES ('secure-delete', 1); -- a removed word is gone from the index, too
