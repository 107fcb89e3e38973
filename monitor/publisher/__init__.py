"""The small program that runs where the sensors are wired: `vermistat publish`.

`reading` makes `wired` values of its settings; `sources` read sensors, each raising `Faulty` with a reason that is counted;
`sampling` averages; `held` numbers what was read and keeps it until the daemon has it on disk; `journal` keeps the same on a
card; `packs` writes SenML; `running` turns the loop. The line to the broker is the daemon's own (`monitor.wire`).
"""
