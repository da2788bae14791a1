-- What was announced, what the user corrected, who listens, and what became of the pictures.
--
-- Portable on purpose, as all steps are. Rows of `corrections` and `events` are only ever added;
-- `pictures`, `listeners` and `deliveries` say how things stand and do change.

-- How long the camera saw nothing before the rest: a shot may have gone unseen.
ALTER TABLE rests ADD COLUMN unseen_ms BIGINT NOT NULL DEFAULT 0;

-- One row for each picture that a rest names, whether its file is still kept or not.
CREATE TABLE pictures (
    sha256          CHAR(64) NOT NULL PRIMARY KEY,
    picture_type    VARCHAR(32) NOT NULL,   -- its media type
    size_bytes      BIGINT NOT NULL,        -- of the file; -1 where it was never looked up
    last_at_unix_ms BIGINT NOT NULL,        -- of the latest rest that names it
    state           VARCHAR(16) NOT NULL    -- kept, leaving (its file may still lie there), gone, never
);

CREATE INDEX pictures_by_age ON pictures (state, last_at_unix_ms);

INSERT INTO pictures (sha256, picture_type, size_bytes, last_at_unix_ms, state)
    SELECT picture_sha256, MIN(picture_type), -1, MAX(at_unix_ms), 'kept'
    FROM rests GROUP BY picture_sha256;

-- What the user says a rest's shot was; the last word on a rest counts.
CREATE TABLE corrections (
    id              BIGINT NOT NULL PRIMARY KEY,
    at_unix_ms      BIGINT NOT NULL,        -- when it was said, UTC
    camera          VARCHAR(64) NOT NULL,
    rest_id         BIGINT NOT NULL,
    step_json       TEXT,                   -- none takes back what was said before
    row_sha256      CHAR(64) NOT NULL       -- over all the other columns
);

CREATE INDEX corrections_by_camera ON corrections (camera, id);

-- What was announced, in this order and without a hole; written together with what caused it.
CREATE TABLE events (
    id              BIGINT NOT NULL PRIMARY KEY,
    at_unix_ms      BIGINT NOT NULL,        -- when it happened, UTC
    camera          VARCHAR(64) NOT NULL,
    kind            VARCHAR(32) NOT NULL,
    rest_id         BIGINT,                 -- the rest it is about, if any
    body_json       TEXT NOT NULL           -- all but the rest itself
);

CREATE INDEX events_by_rest ON events (rest_id, id);

-- Rests were announced by their own ids before there were events.
INSERT INTO events (id, at_unix_ms, camera, kind, rest_id, body_json)
    SELECT id, at_unix_ms, camera, 'rest', id, '{}' FROM rests ORDER BY id;

-- Programs that get each event by HTTP. One that is taken out of the settings keeps its row.
CREATE TABLE listeners (
    id                  BIGINT NOT NULL PRIMARY KEY,
    url                 TEXT NOT NULL,
    secret              TEXT NOT NULL,
    disabled_at_unix_ms BIGINT,             -- when it answered that it is gone for good
    removed_at_unix_ms  BIGINT              -- when it was taken out of the settings
);

-- Who has yet to get what. A row comes with its event and stays, so that it can be looked up.
CREATE TABLE deliveries (
    event_id            BIGINT NOT NULL,
    listener_id         BIGINT NOT NULL,
    message_id          VARCHAR(64) NOT NULL,   -- the same at every try, so that doubles are known
    tries               BIGINT NOT NULL,
    next_try_at_unix_ms BIGINT NOT NULL,
    state               VARCHAR(16) NOT NULL,   -- due, delivered, given_up
    changed_at_unix_ms  BIGINT NOT NULL,
    PRIMARY KEY (event_id, listener_id)
);

CREATE INDEX deliveries_due ON deliveries (listener_id, state, next_try_at_unix_ms);
