"""Mistakes to plant in the judge, each in one rule: holes_peer.py --planted NAME must then find jobs that differ."""
import math

import holes_peer_error as error
import holes_peer_judge as judge


def wrong_method(name, change):
    """Run the right step, then change what it left."""
    right = getattr(judge.Judging, name)

    def step(self, *rest):
        result = right(self, *rest)
        change(self)
        return result
    setattr(judge.Judging, name, step)


def limit_itself_fails():
    judge.ALLOW = -1e-9


def guard_of_two_sided_interval():
    judge.GUARD = 1.96


def no_bias():
    judge.distance_error = lambda c, off, factor: (error.distance_error(c, off, factor)[0], 0.0)


def trace_for_largest():
    right = error.distance_error
    judge.distance_error = lambda c, off, factor: (factor * math.sqrt((c[0, 0] + c[1, 1]) / 2),
                                                   right(c, off, factor)[1])


def datum_readings_without_error():
    right = judge.by_line
    judge.by_line = lambda keys, a, b, v: right(keys, a, b, [0.0, 0.0])


def share_rounded_up():
    judge.math = type("rounded", (), {**vars(math), "floor": staticmethod(lambda v: math.ceil(v - 2e-9))})


def plugged_count():
    wrong_method("take_census", lambda s: setattr(s, "plugged", set()))


def first_round():
    right = judge.combine
    judge.combine = lambda j, rows, index: right(j, [{**r, "round": -r["round"]} for r in rows], index)


def exit_not_turned():
    wrong_method("read_rows", lambda s: [r.update(p=r["p"] * (1, -1)) for r in s.rows
                                         if r["face"] and s.j.exit_view == "turned-about-x"])


def mean_diameter():
    wrong_method("lay_on_pattern", lambda s: [b.update(dmin=sum(b["d"]) / len(b["d"])) for b in s.bores.values()])


def neighbours_to_a_pitch():
    judge.NEIGHBOUR = 1.0 - 1e-9


def sample_like_every_hole():
    wrong_method("state_alignment", lambda s: setattr(s, "every", True))


def cold_bonus():
    """The material bonus from the nominal size instead of the smallest allowed."""
    right = judge.Judging.position_of
    judge.Judging.position_of = lambda self, name, least, *rest: right(
        self, name, None if least is None else least + 0.01, *rest)


MISTAKES = {
    "limit itself fails": limit_itself_fails,
    "guard 1.96 instead of 1.645": guard_of_two_sided_interval,
    "no bias of a distance": no_bias,
    "mean variance instead of the largest": trace_for_largest,
    "datum readings without error": datum_readings_without_error,
    "share rounded up": share_rounded_up,
    "plugged holes counted": plugged_count,
    "first round judged": first_round,
    "exit not turned back": exit_not_turned,
    "mean of repeats judged undersize": mean_diameter,
    "neighbours up to one pitch": neighbours_to_a_pitch,
    "sample judged as every hole": sample_like_every_hole,
    "bonus 0.01 mm off": cold_bonus,
}


def plant(name):
    MISTAKES[name]()
