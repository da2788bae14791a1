-- What the user wrote about a rest or an attempt. Rows are only ever added: the last one about the
-- same thing counts, and an empty text takes back what was written before.
CREATE TABLE notes (
    id              BIGINT NOT NULL PRIMARY KEY,
    at_unix_ms      BIGINT NOT NULL,        -- when it was written, UTC
    camera          VARCHAR(64) NOT NULL,
    rest_id         BIGINT NOT NULL,
    about           VARCHAR(16) NOT NULL,   -- rest, or attempt: the one that the rest belongs to
    text            TEXT NOT NULL,
    row_sha256      CHAR(64) NOT NULL       -- over all the other columns
);

CREATE INDEX notes_by_camera ON notes (camera, id);
