#!/usr/bin/python3
"""Holds data/nist_pidigits.txt against pi itself, computed here in whole numbers by Machin's formula of 1706:
pi = 16 arctan(1/5) - 4 arctan(1/239). The file is as published, with one digit that isn't pi's (data/nist.md)."""
import pathlib
import sys

DIGITS, SPARE = 5000, 20
KNOWN = [(956, 3, 8)]  # place from 0, the file's digit, pi's


def arctan_of_inverse(x, one):
    """arctan(1/x) by its series, in units of 1/one."""
    power = total = one // x
    n, sign = 3, -1
    while power:
        power //= x * x
        total += sign * (power // n)
        n, sign = n + 2, -sign
    return total


def digits_of(number, count):
    """Without str(): Python limits how long a number it writes in one go."""
    found = []
    for _ in range(count):
        number, digit = divmod(number, 10)
        found.append(digit)
    return found[::-1]


def main():
    one = 10 ** (DIGITS - 1 + SPARE)
    pi = 16 * arctan_of_inverse(5, one) - 4 * arctan_of_inverse(239, one)
    text = pathlib.Path(__file__).with_name("data").joinpath("nist_pidigits.txt").read_text(encoding="ascii")
    published = [int(character) for character in text if character.isdigit()]
    computed = digits_of(pi // 10**SPARE, DIGITS)
    assert computed[:10] == [3, 1, 4, 1, 5, 9, 2, 6, 5, 3]
    differ = [(i, *pair) for i, pair in enumerate(zip(published, computed)) if pair[0] != pair[1]]
    print(f"{len(published)} digits; those that are not pi's (place from 0, file, pi): {differ}")
    return 0 if len(published) == DIGITS and differ == KNOWN else 1


if __name__ == "__main__":
    sys.exit(main())
