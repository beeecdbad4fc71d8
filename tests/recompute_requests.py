"""Stands in for whoever computes figures, and keeps what was asked."""

REQUESTS: list[tuple[int, ...]] = []


def keep(door_ids: tuple[int, ...]) -> None:
    REQUESTS.append(door_ids)


def keep_outlooks() -> None:
    """What was announced waits for whoever computes in such a test."""
