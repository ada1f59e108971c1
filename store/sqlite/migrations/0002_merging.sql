-- The index of words is merged by whoever has time, not within the writing of a card.

INSERT INTO words (words, rank) VALUES ('automerge', 0);
INSERT INTO words (words, rank) VALUES ('usermerge', 16);   -- parts of a level that are worth it
INSERT INTO words (words, rank) VALUES ('crisismerge', 64); -- parts of a level at which a card has to do it after all
