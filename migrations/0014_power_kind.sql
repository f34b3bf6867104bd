-- What the rating of a power means. Those of before were asked for as rms, and so they stay; an angle without a level is one whose level nobody knows.
ALTER TABLE sensors_options ADD COLUMN power_kind TEXT;
UPDATE sensors_options SET power_kind = 'rms' WHERE electrical_power_w IS NOT NULL;
