//! The caution that travels with every output: fixed wording, in one place.

/// One paragraph for the head of a GeoJSON layer, a GPX file or a page.
pub const FULL: &str = "Not for navigation. These places come from consumer GPS and past trips, and may be off by \
    tens of metres. They know no buoy, stump, bar, current, weather, closed water, closed season or rule; where no \
    hazard is marked there may still be one, and a marked one was marked at the lake level of that day. A line \
    between two places is no chart course. Charts, posted marks, local notices, speed and no-wake rules, the event's \
    own rules and the skipper's own lookout come first. Fish brought up from deep water may be hurt by it: local \
    rules and the agency's advice on release apply.";

/// One line for a single waypoint, short enough for a small screen.
pub const SHORT: &str = "not for navigation, past GPS marks only.";
