//! The author's note values beside those that the rules give.

use tests::program::run_with_input;

fn told(text: &str) -> String {
    run_with_input(["spelling", "-"], text.as_bytes()).done()
}

#[test]
fn an_unusual_spelling_is_shown_with_the_usual_one_and_the_reason() {
    let text = "title: Slack Line\nmeter: 4/4\n| 1/4 1/2. | 1 2 & 3 (4) |\n";
    let expected = "Slack Line

4/4
bar 1    1/4 1/2.
  usual  1/4 1/4 _1/2
  count 2: dotted half hides the middle of the bar; usual: quarter tied to half
    A note goes over the middle of the bar only if it begins with the bar, or is the half of a bar in four that lies between two notes half as long.
bar 2    1/4 1/8 1/8 1/4 (1/4)

1 of 2 bars is spelled otherwise than usual.
";
    assert_eq!(told(text), expected);
}

#[test]
fn tuplets_are_shown_one_in_another() {
    let text = "meter: 2/4\n| {3:2 1/4 {3:2 1/8 1/8 1/8} 1/4} | (1) |\n";
    let expected =
        "2/4\nbar 1    {3:2 1/4 {3:2 1/8 1/8 1/8} 1/4}\nbar 2    (bar)\n\nEvery bar is spelled as usual.\n";
    assert_eq!(told(text), expected);
}
