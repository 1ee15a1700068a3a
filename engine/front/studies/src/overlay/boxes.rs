//! Many sets in few lines: sets that differ only in which of several figures stands in a place
//! are one line, "friction and one of voltage, torque setting".

/// A place in a line: so many of these figures.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FigurePlace {
    /// Numbers of figures.
    pub any_of: Vec<usize>,
    /// At least and at most so many of them at once.
    pub count: [usize; 2],
}

/// Sets of figures, all the ways to fill its places.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FigureSets {
    /// What stands side by side.
    pub places: Vec<FigurePlace>,
}

impl FigureSets {
    /// The sets, each sorted, of at most so many figures.
    #[must_use]
    pub fn sets(&self, most: usize) -> Vec<Vec<usize>> {
        let mut all = vec![Vec::new()];
        for place in &self.places {
            let choices = choices(place);
            all = all
                .iter()
                .flat_map(|set: &Vec<usize>| {
                    choices.iter().map(move |own| [&set[..], own].concat())
                })
                .filter(|set| set.len() <= most)
                .collect();
        }
        for set in &mut all {
            set.sort_unstable();
        }
        all.sort();
        all
    }

    fn holds(&self, figure: usize) -> bool {
        self.places.iter().any(|place| place.any_of.contains(&figure))
    }

    /// With two places made one, each way: the same sets for a start, and others.
    fn merged(&self) -> Vec<Self> {
        let pairs = (0..self.places.len()).flat_map(|i| (0..i).map(move |j| (i, j)));
        let merge = |(i, j): (usize, usize)| {
            let mut line = self.clone();
            let gone = line.places.remove(i);
            let place = &mut line.places[j];
            place.any_of.extend(gone.any_of);
            place.any_of.sort_unstable();
            for (sum, own) in place.count.iter_mut().zip(gone.count) {
                *sum += own;
            }
            line
        };
        pairs.map(merge).collect()
    }

    /// With one more figure in a place, or one more at once there, each way; also after two
    /// places were made one.
    fn all_larger(&self, figures: &[usize], most: usize) -> Vec<Self> {
        let merged = self.merged();
        let lines = core::iter::once(self).chain(&merged);
        let larger = lines.flat_map(|line| line.larger(figures, most));
        larger.chain(merged.iter().cloned()).collect()
    }

    /// With one more figure in a place, or one more at once there, each way.
    fn larger(&self, figures: &[usize], most: usize) -> Vec<Self> {
        let mut all = Vec::new();
        for at in 0..self.places.len() {
            for &figure in figures.iter().filter(|figure| !self.holds(**figure)) {
                let mut line = self.clone();
                line.places[at].any_of.push(figure);
                line.places[at].any_of.sort_unstable();
                all.push(line);
            }
            let [least, largest] = self.places[at].count;
            if largest < self.places[at].any_of.len().min(most) {
                let mut line = self.clone();
                line.places[at].count[1] += 1;
                all.push(line);
            }
            if least > 1 {
                let mut line = self.clone();
                line.places[at].count[0] -= 1;
                all.push(line);
            }
        }
        all
    }
}

/// The ways to fill a place.
fn choices(place: &FigurePlace) -> Vec<Vec<usize>> {
    let [least, most] = place.count;
    let all = 0..1_u32 << place.any_of.len();
    all.filter(|mask| (least..=most).contains(&(mask.count_ones() as usize)))
        .map(|mask| {
            let own = place.any_of.iter().enumerate().filter(|(k, _)| mask >> k & 1 == 1);
            own.map(|(_, figure)| *figure).collect()
        })
        .collect()
}

/// Lines that hold just these sets (each sorted) of at most `most` figures, in the order of
/// the first of each.
pub(super) fn lines(sets: &[Vec<usize>], most: usize) -> Vec<FigureSets> {
    let mut figures: Vec<usize> = sets.iter().flatten().copied().collect();
    figures.sort_unstable();
    figures.dedup();
    let mut open: Vec<&Vec<usize>> = sets.iter().collect();
    let mut found = Vec::new();
    while let Some(first) = open.first() {
        let place = |figure: &usize| FigurePlace { any_of: vec![*figure], count: [1, 1] };
        let mut line = FigureSets { places: first.iter().map(place).collect() };
        let newly = |line: &FigureSets| {
            let own = line.sets(most);
            let right = own.iter().all(|set| sets.contains(set));
            right.then(|| open.iter().filter(|set| own.contains(set)).count())
        };
        // The largest gain first; of equals the first.
        loop {
            let now = newly(&line).unwrap_or(0);
            let mut best: Option<(usize, FigureSets)> = None;
            for larger in line.all_larger(&figures, most) {
                let Some(count) = newly(&larger) else { continue };
                if count > best.as_ref().map_or(now, |(count, _)| *count) {
                    best = Some((count, larger));
                }
            }
            let Some((_, larger)) = best else { break };
            line = larger;
        }
        let own = line.sets(most);
        open.retain(|set| !own.contains(set));
        found.push(line);
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Whatever the sets, their lines hold them all and nothing else.
    #[test]
    fn lines_hold_just_the_sets() {
        let cases: [&[&[usize]]; 4] = [
            &[&[0], &[1]],
            &[&[0, 3], &[0, 4], &[1, 3], &[1, 4], &[0, 3, 4], &[1, 3, 4]],
            &[&[2], &[0, 1, 5], &[0, 1, 4], &[0, 3, 5]],
            &[&[0, 1], &[0, 2], &[1, 2], &[0, 1, 2]],
        ];
        let counts = [1, 1, 3, 1];
        for (sets, count) in cases.into_iter().zip(counts) {
            let sets: Vec<Vec<usize>> = sets.iter().map(|set| set.to_vec()).collect();
            let lines = lines(&sets, 3);
            let mut held: Vec<Vec<usize>> = lines.iter().flat_map(|line| line.sets(3)).collect();
            held.sort();
            held.dedup();
            let mut wanted = sets.clone();
            wanted.sort();
            assert_eq!(held, wanted);
            assert_eq!(lines.len(), count, "{lines:?}");
        }
    }
}
