//! How long it takes to read and store a CSV file of spots: `cargo run --release -p catalog --example import -- spots.csv new.db`.
//! With a number in place of the file, that many invented spots are written to `spots.csv` in the folder of the database.

use std::collections::BTreeMap;
use std::error::Error;
use std::path::PathBuf;
use std::time::Instant;

use catalog::exchange::csv;
use catalog::{ImportMode, OpenOptions, Store, Write};
use domain::SpotRecord;

/// Invented spots, a line each.
fn invented(count: u32) -> String {
    let mut text = String::from(
        "id,display_name,lake,notes,latitude_deg,longitude_deg,depth_m,ice_thickness_m,bottom_class,slope_deg,relief,\
         canopy_height_m,canopy_density,fish_layer_top_m,fish_layer_bottom_m,fish_per_m3,lure_height_m,hole_radius_m,\
         bottom_temperature_c,salinity_g_kg,ph\n",
    );
    for n in 0..count {
        let (east, depth) = (f64::from(n % 1_000) / 1.0e4, 2.0 + f64::from(n % 97) / 10.0);
        text.push_str(&format!(
            "s{n},Spot {n},Invented Lake {},Invented.,-20.{n:06},-30.{n:06},{depth},0.4,fine_sand,{},boulder 0.5 at 1.2,\
             0.4,sparse,{},{depth},0.05,0.5,0.1,4,0,{}\n",
            n % 50,
            n % 20,
            depth / 2.0,
            7.0 + east,
        ));
    }
    text
}

fn main() -> Result<(), Box<dyn Error>> {
    let mut arguments = std::env::args().skip(1);
    let (Some(file), Some(database)) = (arguments.next(), arguments.next()) else {
        return Err("name a CSV file of spots (or how many to invent) and a new database".into());
    };
    let database = PathBuf::from(database);
    if let Ok(count) = file.parse() {
        std::fs::write(database.with_file_name("spots.csv"), invented(count))?;
        return Ok(());
    }
    let start = Instant::now();
    let bytes = std::fs::read(file)?;
    let runtime = tokio::runtime::Runtime::new()?;
    runtime.block_on(async {
        let store = Store::open(&database, OpenOptions::default()).await?;
        let write = Write { actor: "example".to_owned(), at: "2027-01-15T09:00:00Z".parse()? };
        let before = Instant::now();
        let (mut feed, fed) = catalog::feed();
        let read = tokio::task::spawn_blocking(move || {
            if csv::read_parts::<SpotRecord>(&bytes, &BTreeMap::new(), &mut |part| feed.put(part)).is_continue() {
                feed.finish();
            }
        });
        let outcome = store.import::<SpotRecord>(fed, ImportMode::default(), &write).await?;
        read.await?;
        println!(
            "read {}, {} faults, stored {}: {:.3} s",
            outcome.rows_read,
            outcome.fault_count,
            outcome.created,
            before.elapsed().as_secs_f64()
        );
        store.close().await;
        println!("in all {:.3} s", start.elapsed().as_secs_f64());
        Ok(())
    })
}
