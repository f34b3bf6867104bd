-- Columns by the words of the trade: the dead zone, interference marks, the lure over the vegetation.
ALTER TABLE findings RENAME COLUMN shadow_height_m TO dead_zone_height_m;
ALTER TABLE findings RENAME COLUMN cover_ratio_db TO lure_over_vegetation_db;
ALTER TABLE findings RENAME COLUMN foreign_fraction TO interference_fraction;
