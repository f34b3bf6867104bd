-- Spots come in files of a hundred thousand, and what an import takes is mostly the bytes that it stores. So a spot's body is
-- a JSON list of its figures without their names, a third of the bytes, in the order in which they stand below. A new figure
-- goes to the end of the list. Generated columns would name the figures, but SQLite computes them with every row that it
-- stores; for the same reason it does not check once more that what the service's own writer puts there is JSON.

CREATE TABLE spots_as_lists (
    id TEXT NOT NULL PRIMARY KEY,
    body TEXT NOT NULL,
    etag TEXT NOT NULL,
    create_time INTEGER NOT NULL,
    update_time INTEGER NOT NULL
) STRICT;

INSERT INTO spots_as_lists (id, body, etag, create_time, update_time)
SELECT
    id,
    json_array(
        body -> '$.id',
        body -> '$.display_name',
        body -> '$.lake',
        body -> '$.notes',
        json(iif(
            body ->> '$.position' IS NULL,
            NULL,
            json_array(body -> '$.position.latitude_deg', body -> '$.position.longitude_deg')
        )),
        body -> '$.depth_m',
        body -> '$.ice_thickness_m',
        body -> '$.bottom_class',
        body -> '$.slope_rad',
        (
            SELECT json_group_array(json_array(value -> '$.kind', value -> '$.height_m', value -> '$.offset_m'))
            FROM json_each(body, '$.relief')
        ),
        json(iif(
            body ->> '$.canopy' IS NULL,
            NULL,
            json_array(body -> '$.canopy.height_m', body -> '$.canopy.density', body -> '$.canopy.volume_strength_db')
        )),
        body -> '$.fish_top_m',
        body -> '$.fish_bottom_m',
        body -> '$.fish_per_m3',
        body -> '$.lure_height_m',
        body -> '$.hole_radius_m',
        body -> '$.bottom_temperature_c',
        body -> '$.salinity_g_kg',
        body -> '$.ph'
    ),
    etag,
    create_time,
    update_time
FROM spots;

DROP TABLE spots;

ALTER TABLE spots_as_lists RENAME TO spots;
