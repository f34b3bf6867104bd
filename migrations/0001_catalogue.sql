-- The catalogue. A record's body is JSON in SI units and the only truth; filters look into it. Times are microseconds since 1970.

CREATE TABLE sensors (
    id TEXT PRIMARY KEY NOT NULL,
    body TEXT NOT NULL CHECK (json_valid(body)),
    etag TEXT NOT NULL,
    create_time INTEGER NOT NULL,
    update_time INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE spots (
    id TEXT PRIMARY KEY NOT NULL,
    body TEXT NOT NULL CHECK (json_valid(body)),
    etag TEXT NOT NULL,
    create_time INTEGER NOT NULL,
    update_time INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE shelters (
    id TEXT PRIMARY KEY NOT NULL,
    body TEXT NOT NULL CHECK (json_valid(body)),
    etag TEXT NOT NULL,
    create_time INTEGER NOT NULL,
    update_time INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE targets (
    id TEXT PRIMARY KEY NOT NULL,
    body TEXT NOT NULL CHECK (json_valid(body)),
    etag TEXT NOT NULL,
    create_time INTEGER NOT NULL,
    update_time INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

-- Every write: who, when, what. Written in the transaction of the write itself.
CREATE TABLE audit (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    at INTEGER NOT NULL,
    actor TEXT NOT NULL,
    action TEXT NOT NULL,
    resource TEXT NOT NULL
) STRICT;
