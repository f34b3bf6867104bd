//! What a question can choose from: the shelf.

use proto::v1;

use crate::stop::Stop;
use crate::visit::Visit;

/// Most of a kind that a choice lists.
const MOST: i32 = 300;
/// Most sensors.
const MOST_SENSORS: i32 = 1_000;

/// Records to choose from.
pub(crate) struct Shelf {
    pub(crate) sensors: Vec<v1::Sensor>,
    pub(crate) spots: Vec<v1::Spot>,
    pub(crate) shelters: Vec<v1::Shelter>,
    pub(crate) targets: Vec<v1::Target>,
    pub(crate) goals: Vec<v1::CustomGoal>,
}

impl Shelf {
    pub(crate) async fn read(visit: &Visit) -> Result<Self, Stop> {
        let [mut a, mut b, mut c, mut d, mut e] = std::array::from_fn(|_| visit.client.catalog());
        let (sensors, spots, shelters, targets, goals) = tokio::try_join!(
            a.list_sensors(v1::ListSensorsRequest { page_size: MOST_SENSORS, ..Default::default() }),
            b.list_spots(v1::ListSpotsRequest { page_size: MOST, ..Default::default() }),
            c.list_shelters(v1::ListSheltersRequest { page_size: MOST, ..Default::default() }),
            d.list_targets(v1::ListTargetsRequest { page_size: MOST, ..Default::default() }),
            e.list_custom_goals(v1::ListCustomGoalsRequest { page_size: MOST, ..Default::default() }),
        )?;
        Ok(Self {
            sensors: sensors.into_inner().sensors,
            spots: spots.into_inner().spots,
            shelters: shelters.into_inner().shelters,
            targets: targets.into_inner().targets,
            goals: goals.into_inner().custom_goals,
        })
    }

    pub(crate) fn spot(&self, id: &str) -> Option<&v1::Spot> {
        self.spots.iter().find(|spot| is(&spot.name, id))
    }

    pub(crate) fn shelter(&self, id: &str) -> Option<&v1::Shelter> {
        self.shelters.iter().find(|shelter| is(&shelter.name, id))
    }

    pub(crate) fn sensor(&self, id: &str) -> Option<&v1::Sensor> {
        self.sensors.iter().find(|sensor| is(&sensor.name, id))
    }

    pub(crate) fn target(&self, id: &str) -> Option<&v1::Target> {
        self.targets.iter().find(|target| is(&target.name, id))
    }

    /// A goal by its whole name.
    pub(crate) fn goal(&self, name: &str) -> Option<&v1::CustomGoal> {
        self.goals.iter().find(|goal| goal.name == name)
    }

    pub(crate) fn targets_of(&self, kind: v1::TargetKind) -> impl Iterator<Item = &v1::Target> {
        self.targets.iter().filter(move |target| target.kind() == kind)
    }

    /// Currency of the prices.
    pub(crate) fn currency(&self) -> Option<&str> {
        self.sensors.iter().find_map(|sensor| sensor.price.as_ref()).map(|price| price.currency_code.as_str())
    }
}

/// Last segment of a name.
pub(crate) fn id(name: &str) -> &str {
    name.rsplit('/').next().unwrap_or(name)
}

fn is(name: &str, wanted: &str) -> bool {
    !wanted.is_empty() && id(name) == wanted
}
