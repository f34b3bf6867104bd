-- How long after its ping begins a sensor hears nothing, where a leaflet says so.
ALTER TABLE sensors_options ADD COLUMN ring_down_us REAL;
ALTER TABLE sensors_options ADD COLUMN ring_down_us_spread REAL;
ALTER TABLE sensors_options ADD COLUMN ring_down_us_source TEXT;
