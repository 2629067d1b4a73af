//! The two ends of a JACK server, or why it is not there. Linux only.

use cpal::HostId;
use jack::{Client, ClientOptions};

use crate::Error;
use crate::device::Known;

/// The server's output and input, if one answers. cpal itself would only say that there are no devices.
pub(crate) fn known() -> Result<Known, Error> {
    // The client is closed again at once; nothing is ever connected to it.
    match Client::new("countline looks", ClientOptions::NO_START_SERVER) {
        Ok(_) => {}
        Err(jack::Error::LibraryError(_)) => return Err(Error::NoJackLibrary),
        Err(_) => return Err(no_server()),
    }
    let host = cpal::host_from_id(HostId::Jack).map_err(|_| no_server())?;
    Ok(Known::of(&host))
}

fn no_server() -> Error {
    let server = std::env::var("JACK_DEFAULT_SERVER").unwrap_or_else(|_| "default".to_owned());
    Error::NoJackServer { server }
}
