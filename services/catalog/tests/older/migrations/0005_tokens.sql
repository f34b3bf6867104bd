-- Who may call. A token is a public key, by which its row is found, and 256 random bits, of which only the hash is kept.
-- A row is never deleted: a name in the audit trail means one holder for ever, and a database that once had a token never
-- goes back to answering callers without one.

CREATE TABLE tokens (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    name TEXT NOT NULL UNIQUE,
    key TEXT NOT NULL UNIQUE,
    hash BLOB NOT NULL CHECK (length(hash) = 32),
    role TEXT NOT NULL CHECK (role IN ('READ', 'WRITE', 'ADMIN')),
    create_time INTEGER NOT NULL,
    expire_time INTEGER,
    revoke_time INTEGER,
    -- To the minute: it is not written with every call.
    last_use_time INTEGER
) STRICT;
