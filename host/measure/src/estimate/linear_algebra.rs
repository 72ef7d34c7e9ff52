//! Small dense linear algebra for a search: columns as slices, triangles as vectors of rows or columns, solved in place.
//!
//! Textbook methods (Golub and Van Loan, Matrix Computations, from memory). Columns are as long as there are samples;
//! triangles have a row for each parameter, of which there are few. A shape that does not fit gives nothing.

/// Returns the sum of the products of two columns of one length.
pub(super) fn dot(a: &[f64], b: &[f64]) -> f64 {
    // Two chains, so that additions need not wait for each other.
    let (mut even, mut odd) = (0.0, 0.0);
    let (pairs_a, pairs_b) = (a.chunks_exact(2), b.chunks_exact(2));
    let last = if let ([a], [b]) = (pairs_a.remainder(), pairs_b.remainder()) { a * b } else { 0.0 };
    for (a, b) in pairs_a.zip(pairs_b) {
        if let ([a0, a1], [b0, b1]) = (a, b) {
            even += a0 * b0;
            odd += a1 * b1;
        }
    }
    even + odd + last
}

/// Returns the length of a column.
pub(super) fn length(column: &[f64]) -> f64 {
    dot(column, column).sqrt()
}

/// Takes a column's parts along orthonormal others out of it, and adds them up in `parts`.
pub(super) fn remove(basis: &[Vec<f64>], column: &mut [f64], parts: &mut [f64]) {
    for (unit, part) in basis.iter().zip(parts) {
        let along = dot(unit, column);
        *part += along;
        column.iter_mut().zip(unit).for_each(|(value, unit)| *value -= along * unit);
    }
}

/// Solves with an upper triangle given by columns, in place.
pub(super) fn back_substitute(upper: &[Vec<f64>], right: &mut [f64]) -> Option<()> {
    for index in (0..right.len()).rev() {
        let column = upper.get(index)?;
        let (before, rest) = right.split_at_mut(index);
        let solved = rest.first_mut()?;
        *solved /= column.get(index)?;
        before.iter_mut().zip(column).for_each(|(value, factor)| *value -= factor * *solved);
    }
    Some(())
}

/// Returns the lower triangle, by rows, whose product with its transpose is the matrix; `None` if it has none.
pub(super) fn cholesky(matrix: &[Vec<f64>]) -> Option<Vec<Vec<f64>>> {
    let mut lower: Vec<Vec<f64>> = Vec::with_capacity(matrix.len());
    for (index, row) in matrix.iter().enumerate() {
        let mut new: Vec<f64> = Vec::with_capacity(index + 1);
        for (place, value) in row.iter().take(index).enumerate() {
            let above = lower.get(place)?;
            let known: f64 = new.iter().zip(above).map(|(a, b)| a * b).sum();
            new.push((value - known) / above.get(place)?);
        }
        let rest = row.get(index)? - dot(&new, &new);
        if rest.is_nan() || rest <= 0.0 {
            return None;
        }
        new.push(rest.sqrt());
        lower.push(new);
    }
    Some(lower)
}

/// Solves with a lower triangle and its transpose, in place.
pub(super) fn forward_and_back(lower: &[Vec<f64>], right: &mut [f64]) -> Option<()> {
    for (index, row) in lower.iter().enumerate() {
        let (before, rest) = right.split_at_mut(index);
        let known: f64 = before.iter().zip(row).map(|(a, b)| a * b).sum();
        let value = rest.first_mut()?;
        *value = (*value - known) / row.get(index)?;
    }
    for (index, row) in lower.iter().enumerate().rev() {
        let (before, rest) = right.split_at_mut(index);
        let value = rest.first_mut()?;
        *value /= row.get(index)?;
        before.iter_mut().zip(row).for_each(|(earlier, factor)| *earlier -= factor * *value);
    }
    Some(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::DMatrix;
    use proptest::prelude::*;

    /// A square matrix of some size as rows, and a vector for it.
    fn square() -> impl Strategy<Value = (Vec<Vec<f64>>, Vec<f64>)> {
        (1..7usize).prop_flat_map(|size| {
            let entries = || proptest::collection::vec(-1.0..1.0f64, size);
            (proptest::collection::vec(entries(), size), entries())
        })
    }

    /// Makes it symmetric and positive definite: its product with its transpose, and one on the diagonal.
    fn definite(rows: &[Vec<f64>]) -> Vec<Vec<f64>> {
        let entry = |a: usize, b: usize| plain(&rows[a], &rows[b]) + f64::from(u8::from(a == b));
        (0..rows.len()).map(|a| (0..rows.len()).map(|b| entry(a, b)).collect()).collect()
    }

    fn plain(a: &[f64], b: &[f64]) -> f64 {
        a.iter().zip(b).map(|(a, b)| a * b).sum()
    }

    fn close(found: &[f64], truth: &[f64]) -> bool {
        found.len() == truth.len() && found.iter().zip(truth).all(|(a, b)| (a - b).abs() < 1e-10)
    }

    proptest! {
        #[test]
        fn a_product_and_a_length_are_those_of_any_number_of_samples(
            pairs in proptest::collection::vec((-1.0..1.0f64, -1.0..1.0f64), 0..40)
        ) {
            let (a, b): (Vec<f64>, Vec<f64>) = pairs.into_iter().unzip();
            prop_assert!((dot(&a, &b) - plain(&a, &b)).abs() < 1e-12);
            prop_assert!((length(&a).powi(2) - plain(&a, &a)).abs() < 1e-12);
        }

        #[test]
        fn what_is_removed_and_what_is_left_are_orthogonal_and_give_the_column_back(
            entries in proptest::collection::vec(-1.0..1.0f64, 36), column in proptest::collection::vec(-1.0..1.0f64, 12)
        ) {
            let q = DMatrix::from_column_slice(12, 3, &entries).qr().q();
            let basis: Vec<Vec<f64>> = q.column_iter().map(|unit| unit.iter().copied().collect()).collect();
            let (mut left, mut parts) = (column.clone(), vec![0.5; 3]);
            remove(&basis, &mut left, &mut parts);
            for (unit, part) in basis.iter().zip(&parts) {
                prop_assert!(plain(unit, &left).abs() < 1e-12);
                // It was added to what stood there.
                prop_assert!((part - 0.5 - plain(unit, &column)).abs() < 1e-12);
                left.iter_mut().zip(unit).for_each(|(left, unit)| *left += (part - 0.5) * unit);
            }
            prop_assert!(close(&left, &column));
        }

        #[test]
        fn an_upper_triangle_is_solved((columns, truth) in square()) {
            let mut upper = columns;
            for (index, column) in upper.iter_mut().enumerate() {
                column[index] = 1.0 + column[index].abs();
            }
            // What lies below the diagonal is not looked at.
            let row = |row: usize| (row..truth.len()).map(|column| upper[column][row] * truth[column]).sum();
            let mut right: Vec<f64> = (0..truth.len()).map(row).collect();
            prop_assert!(back_substitute(&upper, &mut right).is_some());
            prop_assert!(close(&right, &truth), "{right:?} {truth:?}");
        }

        #[test]
        fn a_lower_triangle_times_its_transpose_gives_the_matrix_back((rows, _) in square()) {
            let matrix = definite(&rows);
            let lower = cholesky(&matrix).unwrap();
            for (a, row) in matrix.iter().enumerate() {
                prop_assert_eq!(lower[a].len(), a + 1);
                // The shorter of both rows ends the sum.
                let product: Vec<f64> = lower.iter().map(|b| plain(&lower[a], b)).collect();
                prop_assert!(close(&product, row), "{product:?} {row:?}");
            }
        }

        #[test]
        fn a_definite_matrix_is_solved_by_its_triangle((rows, truth) in square()) {
            let matrix = definite(&rows);
            let mut right: Vec<f64> = matrix.iter().map(|row| plain(row, &truth)).collect();
            prop_assert!(forward_and_back(&cholesky(&matrix).unwrap(), &mut right).is_some());
            prop_assert!(close(&right, &truth), "{right:?} {truth:?}");
        }
    }

    #[test]
    fn what_has_no_triangle_gives_nothing() {
        for matrix in
            [[[1.0, 2.0], [2.0, 1.0]], [[0.0; 2]; 2], [[1.0, 1.0], [1.0, 1.0]], [[1.0, 0.0], [0.0, f64::NAN]]]
        {
            assert!(cholesky(&matrix.map(Vec::from)).is_none(), "{matrix:?}");
        }
        assert!(cholesky(&[vec![1.0], vec![0.5]]).is_none(), "a row is too short");
        assert!(back_substitute(&[vec![1.0]], &mut [1.0, 2.0]).is_none(), "a column is missing");
        assert!(forward_and_back(&[vec![1.0], vec![0.5]], &mut [1.0, 2.0]).is_none(), "a row is too short");
    }
}
