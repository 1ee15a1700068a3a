//! Which faces are beside each other.

/// The faces beside each face, in the order of [`Face::ALL`].
pub(crate) const BESIDE: [[usize; 4]; 6] =
    [[1, 2, 4, 5], [0, 2, 3, 5], [0, 1, 3, 4], [1, 2, 4, 5], [0, 2, 3, 5], [0, 1, 3, 4]];

/// Every face is beside those of the other two axes.
#[cfg(test)]
#[test]
fn faces_beside() {
    use dryturn_cube::Face;

    for (face, beside) in Face::ALL.into_iter().zip(BESIDE) {
        let expected: Vec<usize> =
            Face::ALL.into_iter().filter(|f| !f.same_axis(face)).map(Face::index).collect();
        assert_eq!(beside.to_vec(), expected);
    }
}
