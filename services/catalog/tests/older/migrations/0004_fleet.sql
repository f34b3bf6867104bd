-- Fleets: units, bookings, checks and surveys, each as the records of the catalogue are; and what was derived from them.

CREATE TABLE units (
    id TEXT NOT NULL PRIMARY KEY,
    body TEXT NOT NULL CHECK (json_valid(body)),
    etag TEXT NOT NULL,
    create_time INTEGER NOT NULL,
    update_time INTEGER NOT NULL
) STRICT;

CREATE TABLE bookings (
    id TEXT NOT NULL PRIMARY KEY,
    body TEXT NOT NULL CHECK (json_valid(body)),
    etag TEXT NOT NULL,
    create_time INTEGER NOT NULL,
    update_time INTEGER NOT NULL
) STRICT;

CREATE TABLE unitChecks (
    id TEXT NOT NULL PRIMARY KEY,
    body TEXT NOT NULL CHECK (json_valid(body)),
    etag TEXT NOT NULL,
    create_time INTEGER NOT NULL,
    update_time INTEGER NOT NULL
) STRICT;

CREATE TABLE beamSurveys (
    id TEXT NOT NULL PRIMARY KEY,
    body TEXT NOT NULL CHECK (json_valid(body)),
    etag TEXT NOT NULL,
    create_time INTEGER NOT NULL,
    update_time INTEGER NOT NULL
) STRICT;

-- Rules, plans, assessments and fits. Derived once and never changed, so they are kept in the form in which they are
-- answered, a form of the caller's.
CREATE TABLE documents (
    -- Grows with every document: the order of creation.
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    collection TEXT NOT NULL,
    id TEXT NOT NULL,
    body BLOB NOT NULL,
    create_time INTEGER NOT NULL,
    UNIQUE (collection, id)
) STRICT;

CREATE INDEX documents_by_collection ON documents (collection, seq);
