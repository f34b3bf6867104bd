-- A place whose bottom nobody knows, and one of which nobody knows whether plants stand there.
ALTER TABLE spots ADD COLUMN bottom_given TEXT;
UPDATE spots SET bottom_given = bottom_class;
ALTER TABLE spots DROP COLUMN bottom_class;
ALTER TABLE spots RENAME COLUMN bottom_given TO bottom_class;
ALTER TABLE spots ADD COLUMN canopy_unknown INTEGER NOT NULL DEFAULT 0 CHECK (canopy_unknown IN (0, 1));
