"""How a time grows with the size: the exponent fitted over all sizes, and that of the last step.

Over all sizes by least squares in logarithms, which a fixed part of the time flattens; the last step, between the two
largest sizes, shows what a still larger one would cost."""
import math


def exponents(sizes, seconds):
    x, y = [math.log(s) for s in sizes], [math.log(max(s, 1e-9)) for s in seconds]
    mx, my = sum(x) / len(x), sum(y) / len(y)
    fitted = sum((a - mx) * (b - my) for a, b in zip(x, y)) / sum((a - mx) ** 2 for a in x)
    return fitted, (y[-1] - y[-2]) / (x[-1] - x[-2])


def say(what, sizes, seconds):
    if len(sizes) < 2:
        return
    fitted, last = exponents(sizes, seconds)
    print(f"growth of {what}: size to the {fitted:.2f} over {len(sizes)} sizes, to the {last:.2f} between the two largest",
          flush=True)
