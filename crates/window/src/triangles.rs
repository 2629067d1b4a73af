//! A filled shape cut into triangles, because the painter below fills convex shapes only.

use kurbo::{BezPath, PathEl, Point};

/// How far a flattened curve may lie from the true one, in the unit of the path.
const FLATTENING: f64 = 0.01;

/// The corners of each closed part of a path, curves flattened; `scale` is how much larger it will be painted.
pub(crate) fn outlines(path: &BezPath, scale: f64) -> Vec<Vec<Point>> {
    let mut parts: Vec<Vec<Point>> = Vec::new();
    let tolerance = FLATTENING.max(0.1 / scale.max(1.0)).min(0.05);
    kurbo::flatten(path.elements().iter().copied(), tolerance, |element| match element {
        PathEl::MoveTo(at) => parts.push(vec![at]),
        PathEl::LineTo(to) => {
            if let Some(part) = parts.last_mut()
                && part.last() != Some(&to)
            {
                part.push(to);
            }
        }
        PathEl::QuadTo(..) | PathEl::CurveTo(..) | PathEl::ClosePath => {}
    });
    for part in &mut parts {
        if part.len() > 1 && part.first() == part.last() {
            part.pop();
        }
    }
    parts.retain(|part| part.len() > 2);
    parts
}

/// Whether every corner turns the same way.
pub(crate) fn is_convex(corners: &[Point]) -> bool {
    let turns = (0..corners.len()).map(|index| turn(corners, index)).filter(|turn| turn.abs() > 1e-12);
    let (mut left, mut right) = (false, false);
    for turn in turns {
        if turn > 0.0 { left = true } else { right = true }
    }
    !(left && right)
}

/// Cuts a simple polygon (no edge crosses another) into triangles, each three indices into `corners`.
///
/// Ear by ear: a corner whose triangle holds no other corner is cut off, until three are left. Takes time in
/// proportion to the cube of the corners at worst, which is little for the few dozen of a tie.
pub(crate) fn triangles(corners: &[Point]) -> Vec<[usize; 3]> {
    let mut left: Vec<usize> = (0..corners.len()).collect();
    if area(corners) < 0.0 {
        left.reverse();
    }
    let mut cut = Vec::with_capacity(corners.len().saturating_sub(2));
    while left.len() > 3 {
        let count = left.len();
        let ear = (0..count).find(|&at| {
            let ear = [left[(at + count - 1) % count], left[at], left[(at + 1) % count]];
            let [a, b, c] = ear.map(|index| corners[index]);
            (b - a).cross(c - b) > 0.0
                && !left.iter().any(|&other| !ear.contains(&other) && inside(corners[other], a, b, c))
        });
        // Corners on one line have no ear; the first can go without a trace.
        let at = ear.unwrap_or(0);
        if ear.is_some() {
            cut.push([left[(at + count - 1) % count], left[at], left[(at + 1) % count]]);
        }
        left.remove(at);
    }
    if let [a, b, c] = left[..] {
        cut.push([a, b, c]);
    }
    cut
}

fn turn(corners: &[Point], index: usize) -> f64 {
    let count = corners.len();
    let (a, b, c) = (corners[index], corners[(index + 1) % count], corners[(index + 2) % count]);
    (b - a).cross(c - b)
}

/// Twice the area; positive where the corners go round from x towards y.
fn area(corners: &[Point]) -> f64 {
    let count = corners.len();
    (0..count).map(|index| corners[index].to_vec2().cross(corners[(index + 1) % count].to_vec2())).sum()
}

fn inside(point: Point, a: Point, b: Point, c: Point) -> bool {
    let side = |from: Point, to: Point| (to - from).cross(point - from);
    side(a, b) >= 0.0 && side(b, c) >= 0.0 && side(c, a) >= 0.0
}

#[cfg(test)]
mod tests {
    use kurbo::{Circle, Shape};

    use super::*;

    /// The triangles cover exactly the polygon's area.
    fn check(corners: &[(f64, f64)], convex: bool) {
        let corners: Vec<Point> = corners.iter().map(|&at| Point::from(at)).collect();
        assert_eq!(is_convex(&corners), convex, "{corners:?}");
        let cut: f64 = triangles(&corners).iter().map(|t| area(&t.map(|index| corners[index])).abs()).sum();
        assert!((cut - area(&corners).abs()).abs() < 1e-9, "{cut} of {}", area(&corners));
    }

    #[test]
    fn triangles_fill_the_shape() {
        check(&[(0.0, 0.0), (4.0, 0.0), (4.0, 3.0), (0.0, 3.0)], true);
        check(&[(0.0, 3.0), (4.0, 3.0), (4.0, 0.0), (0.0, 0.0)], true);
        // An arrow head, an L, and a crescent as a tie is.
        check(&[(0.0, 0.0), (4.0, 0.0), (1.0, 1.0), (0.0, 4.0)], false);
        check(&[(0.0, 0.0), (3.0, 0.0), (3.0, 1.0), (1.0, 1.0), (1.0, 3.0), (0.0, 3.0)], false);
        check(
            &[(0.0, 0.0), (1.0, 1.0), (2.0, 1.2), (3.0, 1.0), (4.0, 0.0), (3.0, 0.8), (2.0, 1.0), (1.0, 0.8)],
            false,
        );
    }

    #[test]
    fn a_flattened_circle_is_convex_and_closed_once() {
        let path = Circle::new((2.0, 3.0), 1.0).to_path(0.001);
        let parts = outlines(&path, 10.0);
        assert_eq!(parts.len(), 1);
        assert!(is_convex(&parts[0]));
        assert!((area(&parts[0]).abs() / 2.0 - std::f64::consts::PI).abs() < 0.1);
    }
}
