-- Goals of the users' own: weights and limits, each empty where it is that of the preset that the goal starts from.
CREATE TABLE goals (
    id TEXT NOT NULL PRIMARY KEY,
    display_name TEXT NOT NULL,
    notes TEXT NOT NULL,
    starts_from TEXT,
    coverage_weight REAL,
    clutter_weight REAL,
    resolution_weight REAL,
    interference_weight REAL,
    coverage_radius_worthless_m REAL,
    coverage_radius_good_m REAL,
    watch_footprint_worthless_m REAL,
    watch_footprint_good_m REAL,
    dead_zone_height_worthless_m REAL,
    dead_zone_height_good_m REAL,
    lure_over_vegetation_worthless_db REAL,
    lure_over_vegetation_good_db REAL,
    headroom_worthless_db REAL,
    headroom_good_db REAL,
    single_fish_probability_worthless REAL,
    single_fish_probability_good REAL,
    etag TEXT NOT NULL,
    create_time INTEGER NOT NULL,
    update_time INTEGER NOT NULL
) STRICT;
-- A booking names a preset, one of these, or neither.
ALTER TABLE bookings ADD COLUMN goal_given TEXT;
UPDATE bookings SET goal_given = goal;
ALTER TABLE bookings DROP COLUMN goal;
ALTER TABLE bookings RENAME COLUMN goal_given TO goal;
ALTER TABLE bookings ADD COLUMN custom_goal TEXT;
