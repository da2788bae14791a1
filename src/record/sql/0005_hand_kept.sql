-- Attempts that no camera saw, from lists that the player kept by hand. Rows are only ever added.
--
-- Portable on purpose, as all steps are.

CREATE TABLE hand_kept (
    id              BIGINT NOT NULL PRIMARY KEY,
    at_unix_ms      BIGINT NOT NULL,        -- when it was brought in, UTC
    list            VARCHAR(80) NOT NULL,   -- the name of the list that it stands in
    camera          VARCHAR(64) NOT NULL,   -- whose attempts it counts with; empty for any
    day             CHAR(10),               -- 2026-03-05; none where the list has none
    balls           BIGINT NOT NULL,
    stopped         BIGINT NOT NULL,        -- 1 where no shot ended it, else 0
    row_sha256      CHAR(64) NOT NULL       -- over all the other columns
);
