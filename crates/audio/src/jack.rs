//! Whether a JACK server is there, and why not. Linux only.

use jack::{Client, ClientOptions};

use crate::Error;

/// cpal's JACK host, if a server answers. cpal itself would only say that there are no devices.
pub(crate) fn host() -> Result<cpal::Host, Error> {
    // The client is closed again at once; while it lives nothing is connected to it.
    match Client::new("countline_looks", ClientOptions::NO_START_SERVER) {
        Ok(_) => {}
        Err(jack::Error::LibraryError(_)) => return Err(Error::NoJackLibrary),
        Err(_) => return Err(no_server()),
    }
    cpal::host_from_id(cpal::HostId::Jack).map_err(|_| no_server())
}

fn no_server() -> Error {
    let server = std::env::var("JACK_DEFAULT_SERVER").unwrap_or_else(|_| "default".to_owned());
    Error::NoJackServer { server }
}
