-- Rendered reports.

CREATE TABLE reports (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL UNIQUE,
    -- Fingerprint of source, template and settings: the same request finds the stored report.
    content_key TEXT NOT NULL UNIQUE,
    source TEXT NOT NULL,
    template TEXT NOT NULL,
    title TEXT NOT NULL,
    page_count INTEGER NOT NULL,
    size_bytes INTEGER NOT NULL,
    content_hash TEXT NOT NULL,
    create_time INTEGER NOT NULL
) STRICT;

CREATE INDEX reports_by_source ON reports (source, seq);

-- Apart from the report, so that listing reports does not read past megabytes.
CREATE TABLE report_files (
    report INTEGER PRIMARY KEY REFERENCES reports (seq) ON DELETE CASCADE,
    pdf BLOB NOT NULL
) STRICT;
