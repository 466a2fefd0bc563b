//! Who gets which part of the screen. Views draw by it, moving scrolls by it, the mouse is looked up in it.

use ratatui::layout::Rect;

use super::readings;
use crate::tui::app::App;
use crate::tui::dialog::Dialog;
use crate::tui::panes::Pane;
use crate::tui::sheet::Sheet;

/// Below this there is only a message.
pub const SMALLEST: (u16, u16) = (34, 8);
/// From here on other panes stand beside Bytes instead of below it.
const WIDE: u16 = 124;
/// From here on there is a third column.
const WIDEST: u16 = 186;
/// Rows of a step of the tour: its name, what to do, a rule.
pub(super) const TOUR: u16 = 5;

/// Who gets which part of the screen.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Screen {
    /// There is no room for anything but a message.
    pub is_too_small: bool,
    /// The image and its states.
    pub title: Rect,
    /// The step of the tour; no rows where there is none.
    pub tour: Rect,
    /// The image at a glance.
    pub skyline: Rect,
    /// The panes, their headings included.
    pub panes: Vec<(Pane, Rect)>,
    /// Where a form stands, so that the bytes it is about stay in sight; `None` where it has to stand before them.
    pub dock: Option<Rect>,
    /// The answer to the last key, or what is under the cursor.
    pub status: Rect,
    /// What can be done now.
    pub hints: Rect,
    /// How rows of bytes are set out.
    pub grid: Grid,
}

/// How rows of bytes are set out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Grid {
    /// Columns left empty before the address.
    pub lead: usize,
    /// Bytes in a row.
    pub per_row: usize,
    /// Digits of an address.
    pub digits: usize,
    /// With a gap every eight bytes, and one column more before the text.
    pub is_roomy: bool,
}

impl Grid {
    /// The grid with the most bytes in a row that fits into `width` columns.
    fn fitting(width: usize, lead: usize, digits: usize, most: usize) -> Grid {
        let sizes = [32, 16, 8].into_iter().filter(|n| *n <= most);
        let grids =
            sizes.flat_map(|per_row| [true, false].map(|is_roomy| Grid { lead, per_row, digits, is_roomy }));
        let smallest = Grid { lead, per_row: 4, digits, is_roomy: false };
        grids.into_iter().find(|g| g.width() <= width).unwrap_or(smallest)
    }

    /// Column of the address.
    #[must_use]
    pub const fn address_at(self) -> usize {
        self.lead
    }

    /// Column of byte `i` of a row: its mark; the two digits follow.
    #[must_use]
    pub const fn digits_at(self, i: usize) -> usize {
        // Without room, the place of the first mark is all that stands behind the address.
        let room = if self.is_roomy { 1 + i / 8 } else { 0 };
        self.address_at() + self.digits + room + i * 3
    }

    /// Column of the character of byte `i` of a row.
    #[must_use]
    pub const fn text_at(self, i: usize) -> usize {
        let gap = if self.is_roomy { 2 } else { 1 };
        self.digits_at(self.per_row - 1) + 3 + gap + i
    }

    /// Columns of a row.
    #[must_use]
    pub const fn width(self) -> usize {
        self.text_at(self.per_row)
    }

    /// The byte of a row at a column, and whether it was hit in its character.
    #[must_use]
    pub fn hit(self, x: usize) -> Option<(usize, bool)> {
        (0..self.per_row).find_map(|i| {
            let d = self.digits_at(i);
            if (d..d + 3).contains(&x) {
                Some((i, false))
            } else {
                (x == self.text_at(i)).then_some((i, true))
            }
        })
    }
}

impl Screen {
    /// For the size the terminal has.
    #[must_use]
    pub fn of(app: &App) -> Screen {
        Screen::of_size(app, app.size)
    }

    /// For another size.
    #[must_use]
    pub fn of_size(app: &App, (width, height): (u16, u16)) -> Screen {
        let is_too_small = width < SMALLEST.0 || height < SMALLEST.1;
        let mut rest = Rect::new(0, 0, width, height);
        let title = from_top(&mut rest, 1);
        // Two lines of hints where one would hold too few of them.
        let hints = from_bottom(&mut rest, if width < WIDE && height >= 20 { 2 } else { 1 });
        let status = from_bottom(&mut rest, 1);
        let tour = from_top(&mut rest, if app.tour.is_some() { TOUR.min(height / 3) } else { 0 });
        let skyline = from_top(
            &mut rest,
            match height {
                0..=13 => 0,
                14..=29 => 2,
                _ => 3,
            },
        );
        let asks = matches!(app.dialog, Some(Dialog::Form(_)));
        let dock = if asks { dock(&mut rest, left(app)) } else { None };
        // Bytes are what a form is about, so they are what stays beside it.
        let focus = if dock.is_some() { Pane::Bytes } else { app.panes.focus() };
        let mut panes = if app.panes.alone { vec![(focus, rest)] } else { arrange(app, focus, rest) };
        if let Some(dock) = dock {
            panes.retain_mut(|(_, area)| leave_room(area, dock));
        }
        let bytes = panes.iter().find(|(p, _)| *p == Pane::Bytes).map_or(rest, |(_, r)| *r);
        let shown: Vec<&Sheet> = match &app.twin {
            Some(twin) => [twin.left, twin.right].into_iter().filter_map(|i| app.images().get(i)).collect(),
            None => vec![app.it()],
        };
        let digits = shown.iter().map(|s| s.digits()).max().unwrap_or(4);
        let (width, lead, most) = match app.twin {
            // The rule between them sets them off.
            Some(_) if !is_stacked(bytes) => (beside_each_other(bytes)[0].width, 0, 16),
            Some(_) => (bytes.width, 1, 16),
            None => (bytes.width, 1, 32),
        };
        let grid = Grid::fitting(usize::from(width), lead, digits, most);
        Screen { is_too_small, title, tour, skyline, panes, dock, status, hints, grid }
    }

    /// The part of a pane without its heading.
    #[must_use]
    pub fn inside(&self, pane: Pane) -> Option<Rect> {
        let (_, area) = self.panes.iter().find(|(p, _)| *p == pane)?;
        let heading = area.height.min(1);
        Some(Rect { y: area.y + heading, height: area.height - heading, ..*area })
    }

    /// Rows of a pane without its heading.
    #[must_use]
    pub fn height_of(&self, pane: Pane) -> usize {
        self.inside(pane).map_or(0, |r| usize::from(r.height))
    }

    /// Rows of bytes.
    #[must_use]
    pub fn bytes_height(&self) -> usize {
        self.height_of(Pane::Bytes)
    }

    /// The two sides of a Twin view, each with a line for its name; left or above first.
    #[must_use]
    pub fn sides(&self) -> Option<[Rect; 2]> {
        let (_, mut rest) = *self.panes.iter().find(|(p, _)| *p == Pane::Bytes)?;
        if !is_stacked(rest) {
            return Some(beside_each_other(rest));
        }
        let half = rest.height / 2;
        Some([from_top(&mut rest, half), rest])
    }

    /// Column of the rule between the two sides of a Twin view; `None` where they stand above each other.
    #[must_use]
    pub fn rule_between(&self) -> Option<u16> {
        let [first, second] = self.sides()?;
        (first.y == second.y).then_some(first.x + first.width)
    }

    /// Rows of bytes of each side of a Twin view.
    #[must_use]
    pub fn side_height(&self) -> usize {
        let rows = |r: &Rect| usize::from(r.height.saturating_sub(1));
        self.sides().map_or(0, |sides| sides.iter().map(rows).min().unwrap_or(0))
    }
}

/// Whether the two sides of a Twin view stand above each other, for want of width.
fn is_stacked(bytes: Rect) -> bool {
    bytes.width < 80
}

/// The two sides of a Twin view beside each other, with room for a rule and a blank between them.
fn beside_each_other(mut bytes: Rect) -> [Rect; 2] {
    let half = bytes.width.saturating_sub(2) / 2;
    let first = from_left(&mut bytes, half);
    from_left(&mut bytes, 2);
    [first, bytes]
}

/// Where dialogs may stand: below the step of the tour, whose words are what they are about.
#[must_use]
pub fn room(app: &App) -> Rect {
    let (width, height) = app.size;
    // A dialog leaves one row above it free, the title's.
    let above = Screen::of(app).tour.height;
    Rect::new(0, above, width, height - above.min(height))
}

/// Columns of a page that is read, in a room for dialogs.
#[must_use]
pub fn page_width(room: Rect) -> usize {
    usize::from(room.width.saturating_sub(6).min(92))
}

/// Rows of a page that is read, in a room for dialogs.
#[must_use]
pub fn page_height(room: Rect) -> usize {
    usize::from(room.height.saturating_sub(6))
}

fn from_top(rest: &mut Rect, rows: u16) -> Rect {
    let rows = rows.min(rest.height);
    let part = Rect { height: rows, ..*rest };
    (rest.y, rest.height) = (rest.y + rows, rest.height - rows);
    part
}

fn from_bottom(rest: &mut Rect, rows: u16) -> Rect {
    let rows = rows.min(rest.height);
    rest.height -= rows;
    Rect { y: rest.y + rest.height, height: rows, ..*rest }
}

fn from_left(rest: &mut Rect, columns: u16) -> Rect {
    let columns = columns.min(rest.width);
    let part = Rect { width: columns, ..*rest };
    (rest.x, rest.width) = (rest.x + columns, rest.width - columns);
    part
}

/// Columns of Bytes where others stand beside it: 16 bytes in a roomy row, and a blank.
fn left(app: &App) -> u16 {
    let grid = Grid { lead: 1, per_row: 16, digits: app.it().digits(), is_roomy: true };
    // An address has 16 digits at the most.
    grid.width() as u16 + 1
}

/// Rows of a form, its frame included; and rows that stay for the panes.
const DOCK: u16 = 14;
const BESIDE_DOCK: u16 = 5;

/// Takes the room of a form from `rest`: below the panes, or at the right where they stand beside each other.
fn dock(rest: &mut Rect, left: u16) -> Option<Rect> {
    if rest.height < DOCK - 2 + BESIDE_DOCK {
        return None;
    }
    if rest.width >= WIDE {
        let height = (rest.height / 2).clamp(DOCK, 24);
        let left = left + 1;
        return Some(Rect {
            x: rest.x + left,
            y: rest.y + rest.height - height,
            width: rest.width - left,
            height,
        });
    }
    let height = DOCK.min(rest.height - BESIDE_DOCK);
    Some(from_bottom(rest, height))
}

/// Cuts off of `area` what `dock` covers; whether something with rows of its own is left.
fn leave_room(area: &mut Rect, dock: Rect) -> bool {
    if area.intersects(dock) {
        area.height = dock.y.saturating_sub(area.y);
    }
    area.height > 1
}

/// What was asked for takes the place of Findings as long as the user looks at it.
fn found_or_findings(app: &App) -> Pane {
    match app.panes.beside() {
        asked @ (Pane::Found | Pane::Proposed) if app.is_there(asked) => asked,
        _ => Pane::Findings,
    }
}

/// Rows of a pane below Bytes, its heading included: a few lines do not take half of a small screen.
fn wanted(app: &App, pane: Pane, most: u16) -> u16 {
    let rows = match pane {
        Pane::Found => super::found::wanted(app),
        Pane::Checks => app.it().decoded().checks.len(),
        _ => usize::MAX,
    };
    // At most as many as there are, which are counted in u16.
    rows.saturating_add(1).clamp(4, usize::from(most).max(4)) as u16
}

fn arrange(app: &App, focus: Pane, mut rest: Rect) -> Vec<(Pane, Rect)> {
    let mut panes = Vec::new();
    if app.twin.is_some() && rest.height >= 10 {
        let other = if app.panes.beside() == Pane::Fields { Pane::Checks } else { app.panes.beside() };
        let upper = (rest.height * 3 / 5).max(5);
        panes.push((Pane::Bytes, from_top(&mut rest, upper)));
        if rest.width >= WIDE {
            let half = rest.width / 2;
            panes.push((Pane::Fields, from_left(&mut rest, half)));
            from_left(&mut rest, 1);
            panes.push((other, rest));
        } else {
            panes.push((app.panes.beside(), rest));
        }
    } else if rest.width >= WIDE {
        let is_widest = rest.width >= WIDEST;
        let mut left = from_left(&mut rest, left(app));
        from_left(&mut rest, 1);
        // As much as leaves the fields their roles.
        let columns = is_widest.then(|| (rest.width - 63).clamp(46, 62));
        // All readings fit into a long third column; elsewhere the most used of them stand below Bytes.
        let all_readings = readings::count() as u16 + 1;
        let has_long_third = columns.is_some_and(|c| c >= 60) && rest.height >= all_readings + 26;
        let below_bytes = (!has_long_third && left.height >= 30).then(|| from_bottom(&mut left, 13));
        panes.push((Pane::Bytes, left));
        panes.extend(below_bytes.map(|readings| (Pane::Readings, readings)));
        let checks = (app.it().decoded().checks.len() as u16).clamp(1, 8) + 2;
        if let Some(columns) = columns {
            let mut third = Rect { x: rest.x + rest.width - columns, width: columns, ..rest };
            rest.width -= columns + 1;
            panes.push((Pane::Fields, rest));
            panes.push((Pane::Checks, from_top(&mut third, checks.max(6))));
            let readings = has_long_third.then(|| from_bottom(&mut third, all_readings));
            panes.push((found_or_findings(app), third));
            panes.extend(readings.map(|readings| (Pane::Readings, readings)));
        } else if rest.height >= 30 {
            let findings = from_bottom(&mut rest, 12);
            let checks = from_bottom(&mut rest, checks);
            panes.extend([(Pane::Fields, rest), (Pane::Checks, checks), (found_or_findings(app), findings)]);
        } else {
            let other = if app.panes.beside() == Pane::Fields { Pane::Checks } else { app.panes.beside() };
            let below = from_bottom(&mut rest, 8);
            panes.extend([(Pane::Fields, rest), (other, below)]);
        }
    } else if rest.height >= 34 && rest.width >= 60 {
        let upper = rest.height * 2 / 5;
        let bytes = from_top(&mut rest, upper);
        let other = if app.panes.beside() == Pane::Fields { Pane::Checks } else { app.panes.beside() };
        let below = from_bottom(&mut rest, 11);
        panes.extend([(Pane::Bytes, bytes), (Pane::Fields, rest), (other, below)]);
    } else if rest.height >= 10 {
        let lower = wanted(app, app.panes.beside(), rest.height / 2);
        let below = from_bottom(&mut rest, lower);
        panes.extend([(Pane::Bytes, rest), (app.panes.beside(), below)]);
    } else {
        panes.push((focus, rest));
    }
    // The pane with the keys is always there.
    if !panes.iter().any(|(p, _)| *p == focus)
        && let Some(last) = panes.iter_mut().rev().find(|(p, _)| *p != Pane::Bytes)
    {
        last.0 = focus;
    }
    panes
}
