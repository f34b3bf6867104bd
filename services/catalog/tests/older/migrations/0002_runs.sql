-- Durable runs. A run keeps its own copy of everything it is computed from and never reads the catalogue again.

CREATE TABLE runs (
    -- Grows with every run: the order of creation, and a short key for the rows below.
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL UNIQUE,
    request_id TEXT UNIQUE,
    -- What was asked, in a form of the caller's.
    spec BLOB NOT NULL,
    state TEXT NOT NULL CHECK (state IN ('PENDING', 'RUNNING', 'SUCCEEDED', 'FAILED', 'CANCELLED')),
    spot_count INTEGER NOT NULL CHECK (spot_count >= 0),
    option_count INTEGER NOT NULL CHECK (option_count >= 0),
    chunk_spots INTEGER NOT NULL CHECK (chunk_spots > 0),
    findings_done INTEGER NOT NULL DEFAULT 0,
    cancel_requested INTEGER NOT NULL DEFAULT 0 CHECK (cancel_requested IN (0, 1)),
    error TEXT NOT NULL DEFAULT '',
    result_hash TEXT NOT NULL DEFAULT '',
    create_time INTEGER NOT NULL,
    start_time INTEGER,
    end_time INTEGER
) STRICT;

CREATE INDEX runs_unfinished ON runs (seq) WHERE state IN ('PENDING', 'RUNNING');

-- Apart from the run, so that listing runs does not read past megabytes.
CREATE TABLE run_inputs (
    run INTEGER PRIMARY KEY REFERENCES runs (seq) ON DELETE CASCADE,
    body TEXT NOT NULL CHECK (json_valid(body))
) STRICT;

-- A chunk is done when its row is here; the row and the chunk's findings go in one transaction.
CREATE TABLE run_chunks (
    run INTEGER NOT NULL REFERENCES runs (seq) ON DELETE CASCADE,
    chunk INTEGER NOT NULL,
    PRIMARY KEY (run, chunk)
) STRICT, WITHOUT ROWID;

-- Lists of assumptions, each once: the same sentences recur from spot to spot. The key is the fingerprint of the body.
CREATE TABLE run_assumptions (
    run INTEGER NOT NULL REFERENCES runs (seq) ON DELETE CASCADE,
    key BLOB NOT NULL,
    body TEXT NOT NULL CHECK (json_valid(body)),
    PRIMARY KEY (run, key)
) STRICT, WITHOUT ROWID;

-- One spot and one option of a run; both count from 0 in the order of the run's input. The primary key is the order in
-- which findings are read.
CREATE TABLE findings (
    run INTEGER NOT NULL REFERENCES runs (seq) ON DELETE CASCADE,
    spot INTEGER NOT NULL,
    rank INTEGER NOT NULL,
    option INTEGER NOT NULL,
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
    -- Key in run_assumptions; NULL when there are none.
    assumptions BLOB,
    PRIMARY KEY (run, spot, rank, option)
) STRICT, WITHOUT ROWID;
