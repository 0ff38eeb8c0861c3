//! Tables of stations for a plan: a relay and a digipeater beside it. Each ends
//! where its supply follows.

/// The channel of the digipeater.
pub const PACKET: &str = r#"
[[channel]]
name = "Packet"
kind = "packet"
frequency = "144.8 MHz"
station = "relay"
carried = "hand-held"
"#;

/// The relay on the hotel.
pub const RELAY: &str = r#"
[[station]]
name = "Relay"
channel = "Event"
site = "Hotel"
currents = { transmit = "6 A", receive = "700 mA", standby = "400 mA" }
traffic = { keyed = "25 %", listening = "10 %" }
"#;

/// The digipeater on the same roof.
pub const DIGIPEATER: &str = r#"
[[station]]
name = "Digipeater"
channel = "Packet"
beside = "Relay"
currents = { transmit = "1.4 A", receive = "200 mA", standby = "60 mA" }
traffic = { heard = "120 /h", repeated = "80 /h", packet = "0.9 s" }
"#;
