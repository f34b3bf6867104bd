-- Where a unit is that is not at the desk, and until when.
ALTER TABLE units ADD COLUMN lent_to TEXT;
ALTER TABLE units ADD COLUMN back_day TEXT;
