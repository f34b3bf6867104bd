-- A reading at an end of the dial (at once, never) is about no gain.
CREATE TABLE beamSurveys_readings_new (
    owner TEXT NOT NULL REFERENCES beamSurveys (id) ON DELETE CASCADE,
    place INTEGER NOT NULL,
    offset_m REAL NOT NULL,
    depth_m REAL NOT NULL,
    outcome TEXT NOT NULL,
    gain_db REAL,
    PRIMARY KEY (owner, place)
) STRICT, WITHOUT ROWID;
INSERT INTO beamSurveys_readings_new (owner, place, offset_m, depth_m, outcome, gain_db)
    SELECT owner, place, offset_m, depth_m, outcome, gain_db FROM beamSurveys_readings;
DROP TABLE beamSurveys_readings;
ALTER TABLE beamSurveys_readings_new RENAME TO beamSurveys_readings;
