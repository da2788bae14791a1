-- Contests, the entries of each, and whether an entry counts. Rows are only ever added: the last word
-- about an entry counts.
--
-- Portable on purpose, as all steps are.

CREATE TABLE contests (
    id              BIGINT NOT NULL PRIMARY KEY,
    at_unix_ms      BIGINT NOT NULL,        -- when it was opened, UTC
    rules_json      TEXT NOT NULL,
    row_sha256      CHAR(64) NOT NULL       -- over all the other columns
);

CREATE TABLE contest_entries (
    id              BIGINT NOT NULL PRIMARY KEY,
    at_unix_ms      BIGINT NOT NULL,        -- when it was taken in, UTC
    contest_id      BIGINT NOT NULL,
    facts_json      TEXT NOT NULL,          -- what a list tells of it
    row_sha256      CHAR(64) NOT NULL,      -- over all the other columns
    file_text       TEXT                    -- the signed file; none for an entry made by hand
);

CREATE INDEX contest_entries_by_contest ON contest_entries (contest_id, id);

CREATE TABLE contest_words (
    id              BIGINT NOT NULL PRIMARY KEY,
    at_unix_ms      BIGINT NOT NULL,        -- when it was said, UTC
    entry_id        BIGINT NOT NULL,
    state           VARCHAR(16) NOT NULL,   -- counts, withdrawn, removed
    reason          TEXT NOT NULL,
    row_sha256      CHAR(64) NOT NULL       -- over all the other columns
);

CREATE INDEX contest_words_by_entry ON contest_words (entry_id, id);
