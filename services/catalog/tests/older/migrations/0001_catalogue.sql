-- The catalogue. A record's body is JSON in SI units and the only truth of it; filters look into the body, so that a new
-- field needs no migration. Times are microseconds since 1970.

-- Says whose file this is, so that a database of another program is never migrated.
PRAGMA application_id = 1279415629; -- 'LBAM'

CREATE TABLE sensors (
    id TEXT NOT NULL PRIMARY KEY,
    body TEXT NOT NULL CHECK (json_valid(body)),
    etag TEXT NOT NULL,
    create_time INTEGER NOT NULL,
    update_time INTEGER NOT NULL
) STRICT;

CREATE TABLE spots (
    id TEXT NOT NULL PRIMARY KEY,
    body TEXT NOT NULL CHECK (json_valid(body)),
    etag TEXT NOT NULL,
    create_time INTEGER NOT NULL,
    update_time INTEGER NOT NULL
) STRICT;

CREATE TABLE shelters (
    id TEXT NOT NULL PRIMARY KEY,
    body TEXT NOT NULL CHECK (json_valid(body)),
    etag TEXT NOT NULL,
    create_time INTEGER NOT NULL,
    update_time INTEGER NOT NULL
) STRICT;

CREATE TABLE targets (
    id TEXT NOT NULL PRIMARY KEY,
    body TEXT NOT NULL CHECK (json_valid(body)),
    etag TEXT NOT NULL,
    create_time INTEGER NOT NULL,
    update_time INTEGER NOT NULL
) STRICT;

-- Every write: when, who, what, on which resource. Written in the transaction of the write itself.
CREATE TABLE audit (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    time INTEGER NOT NULL,
    actor TEXT NOT NULL,
    action TEXT NOT NULL,
    resource TEXT NOT NULL
) STRICT;
