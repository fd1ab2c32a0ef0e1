//! A job without ports: a tractor on a straight line, 127 impulses a metre, 2 m/s.

use ratatui_core::buffer::Buffer;
use trundle_core::fitness::look::{LinkLook, LiveEvent, Look, Wall};
use trundle_core::session::SessionEvent;
use trundle_core::session::bus::BusNow;
use trundle_core::session::marks::Ruling;
use trundle_core::session::presses::{End, Press, PressPlace, PressRuling, Presses, Wish};
use trundle_core::wire::board::CountSample;
use trundle_core::wire::fix::{Fix, Quality};
use trundle_show::live::results::{Results, WorkedPass};
use trundle_show::live::watch::Watch;
use trundle_show::model::{FigureRow, View};

/// Nanoseconds in a millisecond.
pub const MS: u64 = 1_000_000;
const SPEED_M_S: f64 = 2.0;
const PER_M: f64 = 127.0;
/// Metres of a degree of latitude at B = 52.5 degrees on the WGS 84 ellipsoid, by the series
/// `111132.954 - 559.822 cos 2B + 1.175 cos 4B`; from memory.
const DEGREE_M: f64 = 111_276.8;
const LAT_DEG: f64 = 52.5;

pub struct Bench {
    pub look: Look,
    pub watch: Watch,
    pub presses: Presses,
    board_us: u64,
    impulses: f64,
    start_impulses: f64,
    at_m: f64,
    start_m: f64,
    moves: bool,
    key: u64,
}

impl Bench {
    pub fn new() -> Self {
        let mut watch = Watch::default();
        watch.course_m(100.0);
        let mut bench = Self {
            look: Look {
                now_ns: 60_000 * MS,
                pace: 1.0,
                // 2026-03-30 10:15:00 UTC, two hours ahead.
                wall: Wall { utc_ns: 1_774_865_700_000_000_000, offset_s: 7200 },
                practice: false,
                board: LinkLook { open: true, age_s: Some(0.02) },
                receiver: Some(LinkLook { open: true, age_s: Some(0.1) }),
                bus: None,
                bus_now: BusNow::default(),
                inputs: Some(0b011),
                sample: None,
                fix: None,
                sky: None,
                open_pass: None,
                marked: 0,
                impulses: None,
                against_start: Vec::new(),
            },
            watch,
            presses: Presses::default(),
            board_us: 5_000_000,
            impulses: 1_000.0,
            start_impulses: 0.0,
            at_m: 0.0,
            start_m: 0.0,
            moves: false,
            key: 0,
        };
        bench.step(20);
        bench
    }

    pub fn view(&mut self) -> View {
        self.watch.view(&self.look, &self.presses)
    }

    pub fn happened(&mut self, happened: &LiveEvent) {
        if let LiveEvent::Acknowledged(event) = happened {
            self.presses.ruled(event);
        }
        self.watch.happened(happened, &self.look, &self.presses);
    }

    pub fn mark(&mut self, ruling: Ruling) {
        self.mark_at(self.look.now_ns, ruling);
    }

    fn mark_at(&mut self, host_ns: u64, ruling: Ruling) {
        let event = SessionEvent::Mark { host_ns, from_board: false, ruling };
        self.happened(&LiveEvent::Acknowledged(event));
    }

    pub fn start(&mut self, number: u32) {
        let host_ns = self.press(number, End::Start);
        (self.start_impulses, self.start_m) = (self.impulses, self.at_m);
        self.look.open_pass = Some(number);
        self.mark_at(host_ns, Ruling::Start { number, abandons: None });
    }

    pub fn finish(&mut self, number: u32) {
        let host_ns = self.press(number, End::Finish);
        self.look.open_pass = None;
        self.mark_at(host_ns, Ruling::Finish { number });
    }

    fn press(&mut self, number: u32, end: End) -> u64 {
        self.key += 1;
        let wish = Wish::Mark(trundle_core::session::presses::Due { number, end });
        let (place, host_ns) = (PressPlace::Terminal, self.look.now_ns);
        let mut press = Press { place, key: self.key, host_ns, wish };
        let verdict = self.presses.press(&mut press, self.look.open_pass);
        assert!(matches!(verdict, PressRuling::Give(..)), "{verdict:?}");
        press.host_ns
    }

    /// Drive until so many metres from the last start.
    pub fn drive(&mut self, to_m: f64) {
        while (self.at_m - self.start_m - to_m).abs() > SPEED_M_S * 0.02 {
            let way_m = SPEED_M_S * 0.02;
            self.at_m += way_m.copysign(to_m - (self.at_m - self.start_m));
            self.impulses += way_m * PER_M;
            self.moves = true;
            self.step(20);
        }
        self.moves = false;
    }

    pub fn wait_ms(&mut self, ms: u64) {
        self.step(ms);
    }

    fn step(&mut self, ms: u64) {
        self.look.now_ns += ms * MS;
        self.look.wall.utc_ns += i64::try_from(ms * MS).unwrap();
        self.board_us += ms * 1000;
        let wheel = self.impulses.floor();
        self.look.sample = Some(CountSample {
            host_ns: self.look.now_ns,
            board_us: self.board_us,
            impulses: [wheel as u64, (wheel / 5.0) as u64, 0],
            last_edge_us: [None; 3],
            rejected: [0; 3],
            in_work: false,
            overruns: 0,
        });
        let since = self.impulses - self.start_impulses;
        self.look.impulses = self.look.open_pass.map(|_| [since as u64, (since / 5.0) as u64, 0]);
        self.look.fix =
            Some(fix(self.look.now_ns, self.at_m, if self.moves { SPEED_M_S } else { 0.0 }));
        // A look that is not drawn still feeds the speeds.
        self.view();
    }
}

fn fix(host_ns: u64, at_m: f64, speed_m_s: f64) -> Fix {
    Fix {
        utc_ns: i64::try_from(host_ns).unwrap(),
        host_ns,
        lat_deg: LAT_DEG + at_m / DEGREE_M,
        lon_deg: 9.75,
        height_m: None,
        quality: Quality::RtkFixed,
        satellites: Some(14),
        hdop: None,
        speed_m_s: Some(speed_m_s),
        track_deg: None,
        gst: None,
        speed_quantum_m_s: 0.001,
        position_quantum_m: 0.001,
    }
}

/// So many passes, all well.
pub fn results(passes: u32) -> Results {
    let pass = |number: u32| WorkedPass {
        number,
        way: Some(if number % 2 == 1 { "out" } else { "back" }),
        state: "valid",
        impulses: [Some(12_700.0 + f64::from(number)), Some(2_540.0), None],
        figure: [Some(12_700.0 + f64::from(number)), Some(2_540.0), None],
        why: Vec::new(),
    };
    let row = |channel, channel_index, value: f64| FigureRow {
        channel,
        channel_index,
        enter: Some(value.round() as i64),
        value: Some(value),
        percent: Some(0.08),
        by_tape: true,
        by_satellite: true,
        further: None,
    };
    Results {
        course_m: Some(100.0),
        figures: vec![row("wheel", 0, 12_702.4), row("radar", 1, 2_540.2)],
        passes: (1..=passes).map(pass).collect(),
        warnings: Vec::new(),
    }
}

/// The buffer as text: one line a row, blanks at the ends left out.
pub fn picture(buffer: &Buffer) -> String {
    let width = usize::from(buffer.area.width).max(1);
    let rows = buffer.content.chunks(width).map(|row| {
        let text: String = row.iter().map(ratatui_core::buffer::Cell::symbol).collect();
        format!("{}\n", text.trim_end())
    });
    rows.collect()
}
