//! What each system says at each place, row by row of the published tables. The source stands beside each row.

use crate::rhythms::check;

/// Sixteenths of a beat, its four quarters.
const SIXTEENTHS: &str = "4*1/16";
/// Three in the time of two eighths.
const TRIPLET: &str = "3*1/12";
const QUINTUPLET: &str = "5*1/20";
const SEXTUPLET: &str = "6*1/24";
const SEPTUPLET: &str = "7*1/28";

/// An encyclopedia article on counting in music and a music teacher's survey of systems (2014), read.
#[test]
fn numbers() {
    check("numbers", "1/4", SIXTEENTHS, "1 e & a");
    check("numbers", "2/4", "8*1/16", "1 e & a 2 e & a");
    check("numbers", "6/8", "6*1/8", "1 la li 2 la li");
    check("numbers and-a", "6/8", "6*1/8", "1 & a 2 & a");
    check("numbers", "1/4", TRIPLET, "1 la li");
    check("numbers and-a", "1/4", TRIPLET, "1 & a");
    // Printed as "tri ple" and as "tri plet".
    check("numbers tri-plet", "1/4", TRIPLET, "1 tri plet");
    check("numbers half-triplets", "1/4", SEXTUPLET, "1 la li & la li");
    check("numbers half-triplets", "1/4", TRIPLET, "1 la li");
    // Borrowed from McHose and Tibbs.
    check("numbers", "6/8", "6*1/16 3/8", "1 ta la ta li ta 2");
    check("numbers", "1/4", SEXTUPLET, "1 ta la ta li ta");
    // Nothing is settled between n & a: an attack without a word.
    check("numbers and-a", "6/8", "6*1/16 3/8", "1 · & · a · 2");
    // A percussion teacher's enquiry (2020): no settled way; counting to five is one of those in use.
    check("numbers", "2/4", "5*1/20 5*1/20", "1 2 3 4 5 2 2 3 4 5");
    check("numbers", "1/4", SEPTUPLET, "1 2 3 4 5 6 7");
}

/// The compound row and te: read. ta at the first and the last quarter of a beat, "a note anywhere else is called ta", and
/// n ta te ta for duplets and quadruplets: handouts on the system, read.
#[test]
fn mchose_and_tibbs() {
    check("mchose-tibbs", "1/4", SIXTEENTHS, "1 ta te ta");
    check("mchose-tibbs ti", "1/4", SIXTEENTHS, "1 ti te ta");
    check("mchose-tibbs", "6/8", "6*1/16 3/8", "1 ta la ta li ta 2");
    check("mchose-tibbs", "1/4", TRIPLET, "1 la li");
    check("mchose-tibbs", "1/4", SEXTUPLET, "1 ta la ta li ta");
    check("mchose-tibbs", "1/4", QUINTUPLET, "1 ta ta ta ta");
    check("mchose-tibbs", "1/4", SEPTUPLET, "1 ta ta ta ta ta ta");
    check("mchose-tibbs", "1/4", "8*1/32", "1 ta ta ta te ta ta ta");
}

/// Edwin E. Gordon, Learning Sequences in Music, pp. 74–89: second-hand. Triplets, five and seven: from memory.
#[test]
fn gordon() {
    check("gordon", "2/4", "8*1/16", "du ta de ta du ta de ta");
    check("gordon", "6/8", "6*1/16 3*1/8", "du ta da ta di ta du da di");
    check("gordon", "1/4", TRIPLET, "du da di");
    check("gordon", "1/4", SEXTUPLET, "du ta da ta di ta");
    check("gordon", "1/4", QUINTUPLET, "du ta ta ta ta");
    check("gordon", "1/4", SEPTUPLET, "du ta ta ta ta ta ta");
    // A rest is not spoken: read.
    check("gordon", "4/4", "1/4 (1/4) 1/8 (1/8) (1/4)", "du (·) du (·)");
}

/// Hoffman, Pelto and White 1996, Journal of Music Theory Pedagogy 10, pp. 7–30: read. Seven: from memory.
#[test]
fn takadimi() {
    check("takadimi", "1/4", SIXTEENTHS, "ta ka di mi");
    check("takadimi", "6/8", "6*1/16 3/8", "ta va ki di da ma ta");
    check("takadimi", "6/8", "3*1/8 1/4 1/8", "ta ki da ta da");
    check("takadimi", "1/4", TRIPLET, "ta ki da");
    check("takadimi", "1/4", QUINTUPLET, "ta ka di mi ti");
    check("takadimi", "1/4", SEXTUPLET, "ta va ki di da ma");
    check("takadimi", "1/4", SEPTUPLET, "ta va ki di da ma ti");
    // So printed by Gordon, Taking a Reasonable and Honest Look …, p. 73: read.
    check("takadimi seven-mi", "1/4", SEPTUPLET, "ta va ki di da mi ti");
    // "di" is always the half of the beat, so a beat may mix what divides in two and in three.
    check("takadimi", "1/4", "3*1/24 2*1/16", "ta va ki di mi");
    // Rests and ties change no syllable.
    check("takadimi", "2/4", "1/16 (1/16) 1/16 1/16 1/4", "ta (ka) di mi ta");
    check("takadimi", "2/4", "1/4 _1/8 1/8", "ta _ta di");
}

/// Read in open teaching texts, and in a school district's table (2008); ti ri, sh and the variants in use but tri ple it:
/// from memory.
#[test]
fn kodaly() {
    check("kodaly", "4/4", "1/4 2*1/8 4*1/16 1/4", "ta ti ti ti ka ti ka ta");
    check("kodaly ti-ri", "2/4", "4*1/16 1/4", "ti ri ti ri ta");
    check("kodaly", "6/8", "6*1/8", "ti ti ti ti ti ti");
    check("kodaly", "4/4", "1/2 1/2", "ta _a ta _a");
    check("kodaly", "4/4", "3/4 1/4", "ta _a _a ta");
    check("kodaly", "4/4", "1", "ta _a _a _a");
    check("kodaly", "2/4", "3/8 1/8", "ta _i ti");
    check("kodaly", "2/4", "1/8 1/4 1/8", "ti ta _· ti");
    check("kodaly", "1/4", "3/16 1/16", "ti _i ka");
    check("kodaly tam-ti", "2/4", "3/8 1/8", "tam _· ti");
    check("kodaly syn-co-pa", "2/4", "1/8 1/4 1/8", "syn co _· pa");
    check("kodaly tim-ka", "1/4", "3/16 1/16", "tim ka");
    check("kodaly tim-ka ti-ri", "1/4", "3/16 1/16", "tim ri");
    check("kodaly", "4/4", "1/4 (1/4) 1/8 (1/8) 1/4", "ta (sh) ti (sh) ta");
    check("kodaly", "4/4", "(1)", "(sh) (sh) (sh) (sh)");
    // Tied notes go on with the vowel.
    check("kodaly", "4/4", "1/2 1/2 | _1/4 3/4", "ta _a ta _a | _a ta _a _a");
    // As written in tuplets, unless they have words of their own.
    check("kodaly", "2/4", "3*1/12 1/4", "ti ti ti ta");
    check("kodaly", "2/4", "6*1/24 1/4", "ti ka ti ka ti ka ta");
    check("kodaly tri-o-la", "2/4", "3*1/12 1/4", "tri o la ta");
    check("kodaly tri-ple-it", "2/4", "3*1/12 1/4", "tri ple it ta");
    check("kodaly tri-o-la", "2/4", "1/6 1/12 1/4", "ta ti ta");
    check("kodaly", "2/4", "5*1/20 1/4", "ti ka ti ka ti ta");
    // Syncopation elsewhere than from a beat has no name of its own.
    check("kodaly syn-co-pa", "4/4", "3/8 1/8 1/4 1/8 1/8", "ta _i ti ta ti ti");
    // Nothing is settled for thirty-seconds.
    check("kodaly", "1/4", "4*1/32 1/8", "· · · · ti");
}

/// A theory textbook's second method of counting compound meter, read.
#[test]
fn the_slow_six() {
    check("slow-six", "6/8", "6*1/8", "1 2 3 4 5 6");
    check("slow-six", "6/8", "3/8 1/8 2*1/16 1/8", "1 _2 _3 4 5 & 6");
    check("slow-six", "9/8", "9/8", "1 _2 _3 _4 _5 _6 _7 _8 _9");
    check("slow-six", "4/4", "4*1/16 3/4", "1 e & a 2 _3 _4");
}
