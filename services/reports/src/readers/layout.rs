//! Pages as the typesetter lays them out: where each text stands.

use typst::layout::{Frame, FrameItem, Point, Transform};
use typst_layout::PagedDocument;

use crate::Job;
use crate::world::ReportWorld;

/// Overlap that is no fault: letters seldom fill their box.
const SLACK: f64 = 1.0;

pub(super) struct Page {
    width: f64,
    height: f64,
    pub(super) texts: Vec<Placed>,
}

/// A text with the box of its letters, points from the top left.
#[derive(Debug, Clone)]
pub(super) struct Placed {
    pub(super) text: String,
    pub(super) language: String,
    left: f64,
    right: f64,
    top: f64,
    bottom: f64,
    /// The box of what clips it; none where nothing does.
    clip: Option<(f64, f64)>,
}

/// Compiles a job and reads its pages.
pub(super) fn pages(job: &Job) -> Vec<Page> {
    let world = ReportWorld::new(&job.files, &job.template, job.data.clone()).unwrap();
    let compiled = typst::compile::<PagedDocument>(&world);
    assert!(compiled.warnings.is_empty(), "{}: {:?}", job.template, compiled.warnings);
    let document = compiled.output.unwrap_or_else(|errors| panic!("{}: {errors:?}", job.template));
    typst::comemo::evict(0);
    document
        .pages()
        .iter()
        .map(|page| {
            let mut texts = Vec::new();
            walk(&page.frame, Transform::identity(), None, &mut texts);
            Page { width: page.frame.width().to_pt(), height: page.frame.height().to_pt(), texts }
        })
        .collect()
}

fn walk(frame: &Frame, at: Transform, clip: Option<(f64, f64)>, texts: &mut Vec<Placed>) {
    for (place, item) in frame.items() {
        let here = at.pre_concat(Transform::translate(place.x, place.y));
        match item {
            FrameItem::Group(group) => {
                let inner = here.pre_concat(group.transform);
                let left = Point::zero().transform(inner).x.to_pt();
                let own = group.clip.as_ref().map(|_| (left, left + group.frame.width().to_pt()));
                walk(&group.frame, inner, own.or(clip), texts);
            }
            FrameItem::Text(text) => {
                let base = Point::zero().transform(here);
                let size = text.size.to_pt();
                texts.push(Placed {
                    text: text.text.to_string(),
                    language: text.lang.as_str().to_owned(),
                    left: base.x.to_pt(),
                    right: base.x.to_pt() + text.width().to_pt(),
                    top: base.y.to_pt() - 0.68 * size,
                    bottom: base.y.to_pt() + 0.1 * size,
                    clip,
                });
            }
            _ => {}
        }
    }
}

impl Page {
    /// Letters without the space between them.
    pub(super) fn letters(&self) -> String {
        self.texts.iter().flat_map(|placed| placed.text.chars()).filter(|c| !c.is_whitespace()).collect()
    }

    /// Texts beyond the page, cut off, or over each other.
    pub(super) fn faults(&self) -> Vec<String> {
        let mut faults = Vec::new();
        let inked: Vec<&Placed> = self.texts.iter().filter(|placed| !placed.text.trim().is_empty()).collect();
        for placed in &inked {
            if placed.left < 0.0 || placed.right > self.width || placed.top < 0.0 || placed.bottom > self.height {
                faults.push(format!("off the page: {placed:?}"));
            }
            if placed.clip.is_some_and(|(left, right)| placed.left < left - SLACK || placed.right > right + SLACK) {
                faults.push(format!("cut off: {placed:?}"));
            }
        }
        for (index, one) in inked.iter().enumerate() {
            for other in inked.iter().skip(index + 1) {
                let across = one.right.min(other.right) - one.left.max(other.left);
                let down = one.bottom.min(other.bottom) - one.top.max(other.top);
                if across > SLACK && down > SLACK {
                    faults.push(format!("over each other: {one:?} and {other:?}"));
                }
            }
        }
        faults
    }
}
