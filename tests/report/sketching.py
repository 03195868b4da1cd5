"""Random circuit texts with every kind of component, for what is drawn or printed of them.

Everything comes from the `random.Random` handed in, so a seed is a circuit.
"""

from __future__ import annotations

from random import Random

WORDS = ("main", "feed", "a", "brake_cylinder", "very_long_name_of_a_volume_in_the_cellar", "x1")
VOLUMES = ("reservoir", "pipe", "cylinder", "chamber")
RESTRICTIONS = (
    "",
    ", choke 3 mm",
    ", choke 1.25 mm +- 5 %",
    ", conductance 0.5 l/(s bar) +- 5 %, ratio 0.4",
    ", moving 0.01 .. 0.02 bar.litre/s",
)


class _Sketch:
    """A text in the making; conditions name only what has been written before."""

    def __init__(self, rng: Random) -> None:
        self.rng = rng
        self.lines = ['circuit drawn "A circuit < & > of no sense"']
        self.places: list[str] = []
        self.volumes: list[str] = []
        self.placed: dict[str, tuple[str, ...]] = {}
        self.timers: list[str] = []
        self.count = 0

    def name(self, stem: str) -> str:
        self.count += 1
        return f"{stem}_{self.rng.choice(WORDS)}_{self.count}"

    def say(self, text: str) -> None:
        self.lines.append(text)

    # ---- what there is

    def supply(self) -> None:
        name = self.name("s")
        self.say(f"supply {name}: 0 bar .. {self.rng.randint(4, 9)} bar")
        self.places.append(name)

    def volume(self) -> None:
        name, kind = self.name("v"), self.rng.choice(VOLUMES)
        size = self.rng.choice((": 3 litre +- 5 %, ", ": 12 litre, ", ": "))
        self.say(f"{kind} {name}{size}starts 0 bar .. 2 bar")
        self.places.append(name)
        self.volumes.append(name)

    def control(self) -> None:
        name = self.name("c")
        places = ("hold", "lift", "vent", "run_on_and_on")[: self.rng.choice((2, 2, 3, 4))]
        self.say(f"control {name}: {', '.join(places)}; starts {places[0]}; worked by somebody")
        self.placed[name] = places

    def device(self) -> None:
        name = self.name("d")
        kind = self.rng.choice(("valve", "valve", "valve", "relay", "latch"))
        if self.rng.random() < 0.3:
            self.say(f"{kind} {name}: picked while {self.condition()}, dropped otherwise")
            self.placed[name] = ("picked", "dropped")
            return
        places = ("shut", "open", "lap", "charge")[: self.rng.choice((2, 2, 3))]
        moving = self.rng.choice(("", "; moving takes 0.1 s .. 0.2 s"))
        volume = self.rng.choice(self.volumes)
        self.say(f"{kind} {name}: {', '.join(places)}; starts {places[0]}{moving}; latched")
        for number, place in enumerate(places):
            if number == len(places) - 1:
                said = f"{volume} >= 4 bar +- 0.1 bar"
            else:
                said = f"{volume} <= {number}.6 bar +- 0.1 bar and {volume} >= {number}.2 bar"
            self.say(f"    moves to {place} when {said}")
        self.placed[name] = places

    def timer(self) -> None:
        name = self.name("t")
        self.say(f"timer {name}: runs while {self.condition()}; expires after 2 s .. 2.5 s")
        self.timers.append(name)

    def flow(self) -> None:
        source, target = self.ends()
        one_way = self.rng.choice(("", ", one way", ", one way opening at 0.2 bar"))
        limit = self.rng.choice(RESTRICTIONS)
        when = self.rng.choice(("", f" while {self.condition()}", f" while {self.condition()}"))
        self.say(f"flow {self.name('f')}: {source} -> {target}{when}{limit}{one_way}")

    def switched(self) -> None:
        """A device or control that switches two or three flows at one place."""
        if not self.placed:
            return
        device = self.rng.choice(list(self.placed))
        hub = self.rng.choice(self.volumes)
        for place in self.placed[device][: self.rng.choice((2, 3))]:
            other = self.other(hub)
            turned = other != "atmosphere" and self.rng.random() < 0.5
            ends = (other, hub) if turned else (hub, other)
            more = f" and {self.leaf()}" if self.rng.random() < 0.25 else ""
            limit = self.rng.choice(RESTRICTIONS)
            when = f"while {device} is {place}{more}"
            self.say(f"flow {self.name('w')}: {ends[0]} -> {ends[1]} {when}{limit}")

    def special(self) -> None:
        name, (source, target) = self.name("k"), self.ends()
        limit = self.rng.choice(("", ", choke 4 mm"))
        made = self.rng.choice(range(8))
        if made in (0, 1, 2, 3) and (target == "atmosphere" or len(self.places) < 3):
            return
        if made == 0:
            first, second = self.rng.sample([p for p in self.places if p != target], 2)
            self.say(f"double check valve {name}: {first} and {second} to {target}{limit}")
        elif made == 1:
            self.say(f"reducing valve {name}: {source} -> {target}, set to 5 bar +- 0.1 bar{limit}")
        elif made == 2:
            self.say(f"quick-exhaust valve {name}: {source} to {target}, exhaust atmosphere{limit}")
        elif made == 3:
            other = self.other(target)
            if other == "atmosphere":
                return
            self.say(
                f"self-lapping valve {name}: {source} -> {target}, exhaust atmosphere,"
                f" follows {other} +- 0.05 bar"
            )
        elif made == 4:
            self.say(
                f"relief valve {name}: {self.rng.choice(self.volumes)} -> atmosphere,"
                f" opens at 8 bar +- 0.1 bar, shuts at 7 bar{limit}"
            )
        elif made == 5:
            self.say(f"isolating cock {name}: {source} to {target}; worked by fitter{limit}")
        elif made == 6:
            watched = self.rng.choice(self.volumes)
            settings = "closes at 3.5 bar +- 0.1 bar, opens at 3 bar"
            self.say(f"pressure switch {name}: on {watched}, {settings}")
            self.placed[name] = ("closed", "open")
        else:
            self.say(
                f"spring-applied cylinder {name}: 2 litre, starts 0 bar;"
                " on below 1 bar, off above 3 bar"
            )
            self.places.append(name)
            self.volumes.append(name)

    # ---- what they are made of

    def ends(self) -> tuple[str, str]:
        source = self.rng.choice(self.places)
        return source, self.other(source)

    def other(self, place: str) -> str:
        if self.rng.random() < 0.3:
            return "atmosphere"
        rest = [each for each in self.places if each != place]
        return self.rng.choice(rest) if rest else "atmosphere"

    def leaf(self) -> str:
        offers = [f"{self.rng.choice(self.places)} >= {self.rng.randint(1, 5)}.5 bar +- 0.1 bar"]
        for name, places in self.placed.items():
            offers.append(f"{name} is {self.rng.choice(places)}")
        offers += [f"{timer} has expired" for timer in self.timers]
        return self.rng.choice(offers)

    def condition(self) -> str:
        shape = self.rng.randrange(6)
        if shape < 3:
            return self.leaf()
        if shape == 3:
            return f"{self.leaf()} and {self.leaf()} and {self.leaf()}"
        if shape == 4:
            return f"{self.leaf()} and ({self.leaf()} or {self.leaf()})"
        return f"{self.leaf()} or {self.leaf()}"


def sketch(rng: Random, most: int = 40) -> str:
    """The text of a circuit of at most `most` components."""
    made = _Sketch(rng)
    made.supply()
    made.volume()
    made.volume()
    kinds = [
        *(made.supply, made.volume, made.volume, made.control, made.control, made.device),
        *(made.device, made.timer, made.flow, made.flow, made.flow, made.switched, made.special),
    ]
    wanted = rng.randint(6, most)
    while made.count < wanted - 3:
        rng.choice(kinds)()
    return "\n".join(made.lines) + "\n"
