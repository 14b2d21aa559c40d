//! The words we know ourselves: what anglers call things (common practice, no source).

use super::kind::Strength::{self, Strong, Weak};
use crate::terms::mark::Kind;

/// Kind, strength, and words or phrases in singular, parted by commas.
pub(super) const DEFAULTS: &[(Kind, Strength, &str)] = &[
    (
        Kind::Bait,
        Strong,
        "bait, baitfish, bait fish, baitball, bait ball, bb, shad, threadfin, thread, gizzard, \
         giz, alewife, alewives, herring, blueback, smelt, cisco, tullibee, minnow, shiner, \
         forage",
    ),
    (Kind::Bait, Weak, "ball, pod, cloud, school"),
    (
        Kind::Gamefish,
        Strong,
        "gamefish, game fish, game, bass, largemouth, lm, lmb, smallmouth, smallie, smb, rock bass, \
         striper, striped bass, hybrid, hyb, crappie, walleye, sauger, perch, pike, musky, \
         muskie, muskies, catfish, cat, trout, lake trout, laker, salmon, wiper, bluegill, \
         lunker, fish",
    ),
    (Kind::Gamefish, Weak, "limit"),
    (
        Kind::Cover,
        Strong,
        "brush, brushpile, tree, laydown, timber, log, logjam, crib, stake bed, grass, weed, \
         weedbed, weedline, hydrilla, milfoil, lily, lily pad, reed, fish attractor, attractor, \
         fish crib, stump field, stump bed, cover",
    ),
    (Kind::Cover, Weak, "pile, pad"),
    (
        Kind::Structure,
        Strong,
        "structure, ledge, hump, roadbed, road bed, bridge, rock pile, rockpile, drop off, \
         dropoff, channel, creek channel, creek mouth, saddle, bluff, ditch, ridge, shell bed, shell, gravel, \
         riprap, foundation, culvert",
    ),
    (Kind::Structure, Weak, "point, road, drop, spring, bend, flat, bar, hole, break"),
    (
        Kind::Hazard,
        Strong,
        "hazard, danger, stump, shoal, rock, boulder, cable, skull, obstruction, shipwreck, \
         wreck, sandbar, sand bar, reef, buoy, deadhead",
    ),
    (Kind::Hazard, Weak, "shallow, dam, weir"),
    (
        Kind::Access,
        Strong,
        "access, ramp, boat ramp, launch, dock, boat dock, marina, pier, fishing pier, \
         fish camp, parking, gas dock",
    ),
    (Kind::Access, Weak, "home, truck, gas, fuel, slip, camp"),
    (
        Kind::Other,
        Strong,
        "bait shop, bait store, bait and tackle, tackle shop, tackle, fish cleaning, other",
    ),
];
