"""What the workers are given to do, how often, and by which queue."""

BEAT = {
    "drain the outbox": {"task": "bookings.tasks.drain_outbox", "schedule": 5.0},
    "enqueue what is due": {"task": "bookings.tasks.enqueue_due", "schedule": 60.0},
    "read busy calendars": {"task": "bookings.tasks.refresh_busy_calendars", "schedule": 60.0},
    # It is done once a day; the other looks find nothing, or go on where a long day was left.
    "let go of what is over": {"task": "bookings.tasks.let_go", "schedule": 600.0},
    # A worker that is solving does not want the looks it has missed.
    "solve plans": {
        "task": "bookings.tasks.solve_plans",
        "schedule": 5.0,
        "options": {"expires": 5.0},
    },
    "deliver events": {
        "task": "bookings.tasks.deliver_events",
        "schedule": 5.0,
        "options": {"expires": 5.0},
    },
}
# A solve takes minutes, and a receiver of events may take 15 seconds to answer nothing: each has a
# queue and a worker of its own, so that no email waits for them.
ROUTES = {
    "bookings.tasks.solve_plans": {"queue": "plans"},
    "bookings.tasks.deliver_events": {"queue": "events"},
}
