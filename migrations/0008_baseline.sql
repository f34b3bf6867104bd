-- The catalog, the fleet, runs, and what is derived from them. A record is a row with a column a field, the unit at the end of the
-- column's name; a list in a record is a table of its own, in the order of `place`. What is NULL was not given. Beside a figure stand
-- its spread (one standard deviation, in the same unit) and its source; without a source it is stated. Which columns there are the
-- tables of fields in `domain` say, and a test compares. Times are microseconds since 1970.

-- Says whose file this is, so that a database of another program is never migrated.
PRAGMA application_id = 1279415629; -- 'LBAM'

CREATE TABLE sensors (
    id TEXT NOT NULL PRIMARY KEY,
    display_name TEXT NOT NULL,
    notes TEXT NOT NULL,
    price_units INTEGER,
    price_nanos INTEGER,
    currency TEXT NOT NULL,
    threshold_db REAL,
    threshold_db_spread REAL,
    threshold_db_source TEXT,
    max_gain_db REAL,
    max_gain_db_spread REAL,
    max_gain_db_source TEXT,
    dial_scale TEXT,
    receiver_noise_db REAL,
    receiver_noise_db_spread REAL,
    receiver_noise_db_source TEXT,
    ping_interval_ms REAL,
    ping_interval_ms_spread REAL,
    ping_interval_ms_source TEXT,
    ping_jitter_percent REAL,
    ping_jitter_percent_spread REAL,
    ping_jitter_percent_source TEXT,
    confirm_marks INTEGER,
    confirm_pings INTEGER,
    etag TEXT NOT NULL,
    create_time INTEGER NOT NULL,
    update_time INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE sensors_options (
    owner TEXT NOT NULL REFERENCES sensors (id) ON DELETE CASCADE,
    place INTEGER NOT NULL,
    option_id TEXT NOT NULL,
    option_display_name TEXT NOT NULL,
    frequency_khz REAL,
    frequency_khz_spread REAL,
    frequency_khz_source TEXT,
    shape TEXT,
    beamwidth_deg REAL,
    beamwidth_deg_spread REAL,
    beamwidth_deg_source TEXT,
    beamwidth_level TEXT,
    cross_beamwidth_deg REAL,
    cross_beamwidth_deg_spread REAL,
    cross_beamwidth_deg_source TEXT,
    peak_side_lobe_db REAL,
    peak_side_lobe_db_spread REAL,
    peak_side_lobe_db_source TEXT,
    pattern_provenance TEXT,
    floor_db REAL,
    floor_db_spread REAL,
    floor_db_source TEXT,
    source_level_db REAL,
    source_level_db_spread REAL,
    source_level_db_source TEXT,
    electrical_power_w REAL,
    electrical_power_w_spread REAL,
    electrical_power_w_source TEXT,
    efficiency_percent REAL,
    efficiency_percent_spread REAL,
    efficiency_percent_source TEXT,
    pulse_length_us REAL,
    pulse_length_us_spread REAL,
    pulse_length_us_source TEXT,
    sweep_bandwidth_khz REAL,
    sweep_bandwidth_khz_spread REAL,
    sweep_bandwidth_khz_source TEXT,
    receiver_bandwidth_khz REAL,
    receiver_bandwidth_khz_spread REAL,
    receiver_bandwidth_khz_source TEXT,
    PRIMARY KEY (owner, place)
) STRICT, WITHOUT ROWID;

-- Points of tabulated patterns; `option` is the place of the option in its sensor.
CREATE TABLE sensors_options_pattern_points (
    owner TEXT NOT NULL REFERENCES sensors (id) ON DELETE CASCADE,
    place INTEGER NOT NULL,
    option INTEGER NOT NULL,
    angle_deg REAL NOT NULL,
    level_db REAL NOT NULL,
    PRIMARY KEY (owner, place)
) STRICT, WITHOUT ROWID;

-- Positions of a clock face are minutes past its own twelve o'clock.
CREATE TABLE sensors_dial_points (
    owner TEXT NOT NULL REFERENCES sensors (id) ON DELETE CASCADE,
    place INTEGER NOT NULL,
    position REAL NOT NULL,
    gain_db REAL NOT NULL,
    PRIMARY KEY (owner, place)
) STRICT, WITHOUT ROWID;

CREATE TABLE spots (
    id TEXT NOT NULL PRIMARY KEY,
    display_name TEXT NOT NULL,
    lake TEXT NOT NULL,
    label TEXT NOT NULL,
    notes TEXT NOT NULL,
    latitude_deg REAL,
    longitude_deg REAL,
    depth_m REAL NOT NULL,
    ice_thickness_m REAL,
    bottom_class TEXT NOT NULL,
    slope_deg REAL,
    canopy_height_m REAL,
    canopy_density TEXT,
    canopy_volume_strength_db REAL,
    fish_layer_top_m REAL,
    fish_layer_bottom_m REAL,
    fish_per_m3 REAL,
    lure_height_m REAL,
    hole_radius_m REAL,
    bottom_temperature_c REAL,
    salinity_g_kg REAL,
    ph REAL,
    etag TEXT NOT NULL,
    create_time INTEGER NOT NULL,
    update_time INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE spots_relief (
    owner TEXT NOT NULL REFERENCES spots (id) ON DELETE CASCADE,
    place INTEGER NOT NULL,
    kind TEXT NOT NULL,
    height_m REAL NOT NULL,
    offset_m REAL NOT NULL,
    PRIMARY KEY (owner, place)
) STRICT, WITHOUT ROWID;

CREATE TABLE shelters (
    id TEXT NOT NULL PRIMARY KEY,
    display_name TEXT NOT NULL,
    notes TEXT NOT NULL,
    floor_length_m REAL,
    floor_width_m REAL,
    floor_diameter_m REAL,
    wall_clearance_m REAL,
    min_ice_web_m REAL,
    hole_radius_m REAL,
    party_size INTEGER,
    transducers_recessed INTEGER NOT NULL CHECK (transducers_recessed IN (0, 1)),
    etag TEXT NOT NULL,
    create_time INTEGER NOT NULL,
    update_time INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE shelters_holes (
    owner TEXT NOT NULL REFERENCES shelters (id) ON DELETE CASCADE,
    place INTEGER NOT NULL,
    x_m REAL NOT NULL,
    y_m REAL NOT NULL,
    PRIMARY KEY (owner, place)
) STRICT, WITHOUT ROWID;

CREATE TABLE targets (
    id TEXT NOT NULL PRIMARY KEY,
    display_name TEXT NOT NULL,
    notes TEXT NOT NULL,
    kind TEXT NOT NULL,
    shape TEXT NOT NULL,
    target_strength_db REAL,
    target_strength_db_spread REAL,
    target_strength_db_source TEXT,
    diameter_mm REAL,
    length_mm REAL,
    length_cm REAL,
    material TEXT,
    fish_class TEXT,
    etag TEXT NOT NULL,
    create_time INTEGER NOT NULL,
    update_time INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE units (
    id TEXT NOT NULL PRIMARY KEY,
    display_name TEXT NOT NULL,
    notes TEXT NOT NULL,
    sensor TEXT NOT NULL,
    serial TEXT NOT NULL,
    state TEXT NOT NULL,
    etag TEXT NOT NULL,
    create_time INTEGER NOT NULL,
    update_time INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE bookings (
    id TEXT NOT NULL PRIMARY KEY,
    display_name TEXT NOT NULL,
    notes TEXT NOT NULL,
    spot TEXT NOT NULL,
    shelter TEXT,
    anglers INTEGER NOT NULL,
    first_day TEXT NOT NULL,
    last_day TEXT NOT NULL,
    goal TEXT NOT NULL,
    lure TEXT NOT NULL,
    fish TEXT NOT NULL,
    min_score REAL NOT NULL,
    min_headroom_db REAL NOT NULL,
    etag TEXT NOT NULL,
    create_time INTEGER NOT NULL,
    update_time INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE unitChecks (
    id TEXT NOT NULL PRIMARY KEY,
    unit TEXT NOT NULL,
    option TEXT NOT NULL,
    target TEXT NOT NULL,
    day TEXT NOT NULL,
    depth_m REAL NOT NULL,
    shown_at TEXT NOT NULL,
    bottom_temperature_c REAL NOT NULL,
    swap TEXT NOT NULL,
    notes TEXT NOT NULL,
    etag TEXT NOT NULL,
    create_time INTEGER NOT NULL,
    update_time INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE beamSurveys (
    id TEXT NOT NULL PRIMARY KEY,
    display_name TEXT NOT NULL,
    notes TEXT NOT NULL,
    sensor TEXT NOT NULL,
    option TEXT NOT NULL,
    target TEXT NOT NULL,
    day TEXT NOT NULL,
    bottom_temperature_c REAL NOT NULL,
    etag TEXT NOT NULL,
    create_time INTEGER NOT NULL,
    update_time INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE beamSurveys_readings (
    owner TEXT NOT NULL REFERENCES beamSurveys (id) ON DELETE CASCADE,
    place INTEGER NOT NULL,
    offset_m REAL NOT NULL,
    depth_m REAL NOT NULL,
    outcome TEXT NOT NULL,
    gain_db REAL NOT NULL,
    PRIMARY KEY (owner, place)
) STRICT, WITHOUT ROWID;

-- Every write: when, who, what, on which resource. Written in the transaction of the write itself.
CREATE TABLE audit (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    time INTEGER NOT NULL,
    actor TEXT NOT NULL,
    action TEXT NOT NULL,
    resource TEXT NOT NULL
) STRICT;

-- Durable runs. A run keeps its own copy of everything it is computed from and never reads the catalog again.

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
    dead_zone_height_m REAL NOT NULL,
    lure_over_vegetation_db REAL,
    headroom_db REAL,
    interference_fraction REAL NOT NULL,
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
