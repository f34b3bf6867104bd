-- Durable runs. A run keeps its own copy of everything it was computed from.

CREATE TABLE runs (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL UNIQUE,
    request_id TEXT UNIQUE,
    spec BLOB NOT NULL,
    input TEXT NOT NULL CHECK (json_valid(input)),
    state TEXT NOT NULL CHECK (state IN ('PENDING', 'RUNNING', 'SUCCEEDED', 'FAILED', 'CANCELLED')),
    spot_count INTEGER NOT NULL,
    option_count INTEGER NOT NULL,
    chunk_spots INTEGER NOT NULL CHECK (chunk_spots > 0),
    findings_done INTEGER NOT NULL DEFAULT 0,
    cancel_requested INTEGER NOT NULL DEFAULT 0 CHECK (cancel_requested IN (0, 1)),
    error TEXT NOT NULL DEFAULT '',
    result_hash TEXT NOT NULL DEFAULT '',
    create_time INTEGER NOT NULL,
    start_time INTEGER,
    end_time INTEGER
) STRICT;

CREATE INDEX runs_unfinished ON runs (state) WHERE state IN ('PENDING', 'RUNNING');

-- A chunk is done when its row is here; the row and the chunk's findings go in one transaction.
CREATE TABLE run_chunks (
    run INTEGER NOT NULL REFERENCES runs (seq) ON DELETE CASCADE,
    chunk INTEGER NOT NULL,
    PRIMARY KEY (run, chunk)
) STRICT, WITHOUT ROWID;

CREATE TABLE findings (
    run INTEGER NOT NULL REFERENCES runs (seq) ON DELETE CASCADE,
    spot INTEGER NOT NULL,
    option INTEGER NOT NULL,
    rank INTEGER NOT NULL,
    score REAL NOT NULL,
    coverage_radius_m REAL NOT NULL,
    coverage_area_m2 REAL NOT NULL,
    watch_footprint_m REAL NOT NULL,
    range_cell_m REAL NOT NULL,
    single_fish_probability REAL NOT NULL,
    shadow_height_m REAL NOT NULL,
    cover_ratio_db REAL,
    headroom_db REAL,
    foreign_fraction REAL NOT NULL,
    lure_gain_db REAL NOT NULL,
    bottom_gain_db REAL NOT NULL,
    working_gain_db REAL NOT NULL,
    clear_gain_db REAL,
    search_gain_db REAL NOT NULL,
    max_gain_db REAL NOT NULL,
    desirability_coverage REAL NOT NULL,
    desirability_clutter REAL NOT NULL,
    desirability_resolution REAL NOT NULL,
    desirability_interference REAL NOT NULL,
    -- Failures, notices and uncertainty as JSON; NULL when there are none.
    detail TEXT,
    -- Which entry of run_texts holds the assumptions; the same sentences recur from spot to spot.
    assumptions INTEGER,
    PRIMARY KEY (run, spot, option)
) STRICT, WITHOUT ROWID;

CREATE TABLE run_texts (
    run INTEGER NOT NULL REFERENCES runs (seq) ON DELETE CASCADE,
    key INTEGER NOT NULL,
    body TEXT NOT NULL,
    PRIMARY KEY (run, key)
) STRICT, WITHOUT ROWID;

CREATE TABLE reports (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL UNIQUE,
    -- Fingerprint of source, template and settings: the same request finds the stored report.
    content_key TEXT NOT NULL UNIQUE,
    source TEXT NOT NULL,
    template TEXT NOT NULL,
    title TEXT NOT NULL,
    page_count INTEGER NOT NULL,
    content_hash TEXT NOT NULL,
    create_time INTEGER NOT NULL,
    pdf BLOB NOT NULL
) STRICT;
