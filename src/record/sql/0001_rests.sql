-- One row for each rest: the table still, read and kept. Rows are only ever added.
--
-- Portable on purpose: no type, default or function here is of one database alone. Ids are given
-- by the writer, one after the other, since they are the order in which rests are passed on.
CREATE TABLE rests (
    id              BIGINT NOT NULL PRIMARY KEY,
    at_unix_ms      BIGINT NOT NULL,        -- when the frame was taken, UTC
    camera          VARCHAR(64) NOT NULL,   -- the name the user gave the camera
    layout_json     TEXT NOT NULL,          -- as the published schema has it
    picture_sha256  CHAR(64) NOT NULL,      -- names the file under pictures/
    picture_type    VARCHAR(32) NOT NULL,   -- its media type
    row_sha256      CHAR(64) NOT NULL       -- over all the other columns, to find changed rows
);

CREATE INDEX rests_by_time ON rests (at_unix_ms, id);
CREATE INDEX rests_by_camera ON rests (camera, id);
