"""Start a PostgreSQL of our own, fill it, measure, and print the ratios.

python -m benchmarks            the full size: 1,000 circuits, two years
python -m benchmarks --small    a twentieth of it, to see that it runs
"""

from benchmarks.postgresql import is_small, on_a_database_of_its_own


def main() -> None:
    small = is_small(__doc__)
    with on_a_database_of_its_own():
        from benchmarks.measure import run
        from benchmarks.site import Size

        run(Size.small() if small else Size())


if __name__ == "__main__":
    main()
