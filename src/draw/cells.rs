//! What hangs at one tee of a row.

use super::pen::{Corner, Pen};
use super::plan::{Body, Cell};
use super::rail::{Band, Reach};
use super::rows::{Entry, is_vessel};
use super::scene::About;
use super::tracks::At;
use super::words::Text;

impl Pen<'_> {
    /// Lay what hangs at a tee; how far it goes is `right`.
    pub(crate) fn cell(
        &mut self,
        cell: &Cell,
        band: Band,
        right: At,
        bends: Option<(Vec<Corner>, Vec<Corner>)>,
    ) -> Reach {
        match &cell.body {
            Body::Rung(bits) if is_vessel(&cell.body) => {
                let reach = self.between_rails(&bits[0], band);
                self.x.keep(band.x, right, reach.right, 0.0);
                reach
            }
            Body::Rung(bits) => {
                let reach = self.rung(bits, band, cell.number, right, bends);
                self.x.keep(band.x, right, reach.right, 0.0);
                reach
            }
            Body::Nested(row) => {
                let (flow, back) = (self.y.track(), self.y.track());
                let entry = Entry {
                    flow_x: band.x,
                    flow_lead: vec![(band.x, band.flow)],
                    back_x: band.x,
                    back_tail: vec![(band.x, band.back)],
                    left: band.x.plus(1.5),
                    back_left: band.x.plus(1.5),
                    bounds: None,
                    wide: None,
                };
                let taken = self.row(row, entry, flow, back);
                self.rows = self.rows.saturating_sub(1);
                self.y.keep(band.flow, taken.top, band.under, 0.2);
                self.y.keep(taken.bottom, band.back, band.over, 0.2);
                self.y.keep(band.flow, flow, self.least, 0.0);
                self.y.keep(back, band.back, self.least, 0.0);
                self.x.keep(taken.right, right, 0.0, 0.0);
                Reach {
                    left: 3.0,
                    right: 3.0,
                }
            }
            Body::Away(id, row) => {
                let reach = self.away(*id, row, band);
                self.x.keep(band.x, right, reach.right, 0.0);
                reach
            }
            Body::Loop(bits) => self.one_pipe(bits, band, right),
            Body::Table(emitters) => {
                let text = self.loop_table(emitters);
                let (w, h) = text.size(self.lettering.value);
                let top = band.middle.plus(-h / 2.0);
                self.y.keep(band.flow, top, band.under + 1.0, 0.0);
                let foot = band.middle.plus(h / 2.0);
                self.y.keep(foot, band.back, band.over + 1.0, 0.0);
                self.text((band.x.plus(1.0), top), text, (w, h), About::Sheet);
                self.x.keep(band.x, right, w + 2.0, 0.0);
                Reach {
                    left: 1.0,
                    right: w + 2.0,
                }
            }
        }
    }

    /// One line for each numbered loop.
    fn loop_table(&self, emitters: &[usize]) -> Text {
        let mut text = Text::default();
        for (i, &e) in emitters.iter().enumerate() {
            let words = self.words.loop_line(self.figures, e, i + 1, self.style);
            text.lines.push(super::scene::Line {
                text: words,
                bold: false,
            });
        }
        text
    }
}
