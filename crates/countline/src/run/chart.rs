//! `countline chart`

use paper::Error;

use crate::counting_file;
use crate::failure::Failure;
use crate::flags::{ChartFlag, ChartFlags};

pub(crate) fn run(flags: &ChartFlags) -> Result<(), Failure> {
    let form = flags.pages.form().map_err(Failure::Call)?;
    let print = flags.pages.print.print();
    let chart = match flags.chart {
        ChartFlag::Values => paper::values_chart(print),
        ChartFlag::Counting => paper::counting_chart(&counting_file::chosen(&flags.counting)?, print),
    };
    super::pages::write(&chart.map_err(|error: Error| Failure::job(error))?, form, &flags.pages.out)
}
