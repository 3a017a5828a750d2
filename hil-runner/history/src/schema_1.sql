-- The first form of a history. Every time is UTC in microseconds since 1970, or nanoseconds of the rig's own time.

CREATE TABLE run (
    id INTEGER PRIMARY KEY,
    started_us INTEGER NOT NULL,
    night TEXT,
    rig TEXT NOT NULL,
    kind TEXT NOT NULL,
    scenario TEXT NOT NULL,
    seed TEXT NOT NULL,
    tool TEXT NOT NULL,
    driver TEXT NOT NULL,
    firmware TEXT NOT NULL,
    chip TEXT NOT NULL,
    carrier TEXT NOT NULL,
    core_hz INTEGER NOT NULL,
    outcome TEXT NOT NULL,
    breakage TEXT,
    ended_ns INTEGER NOT NULL,
    met INTEGER NOT NULL,
    not_met INTEGER NOT NULL,
    cannot_tell INTEGER NOT NULL,
    folder TEXT,
    -- Two records that agree in all of these are one run, told twice.
    UNIQUE (started_us, rig, kind, scenario, seed)
) STRICT;
CREATE INDEX run_of_series ON run (rig, kind, scenario, id);
CREATE INDEX run_by_time ON run (started_us);
CREATE INDEX run_of_night ON run (night) WHERE night IS NOT NULL;

CREATE TABLE step (
    run INTEGER NOT NULL REFERENCES run ON DELETE CASCADE,
    number INTEGER NOT NULL,
    label TEXT NOT NULL,
    outcome TEXT NOT NULL,
    reason TEXT,
    started_ns INTEGER NOT NULL,
    ended_ns INTEGER NOT NULL,
    met INTEGER NOT NULL,
    not_met INTEGER NOT NULL,
    cannot_tell INTEGER NOT NULL,
    -- What was measured of the line, where it was asked for anything.
    resets INTEGER,
    slots INTEGER,
    busy_us INTEGER,
    idle_high INTEGER,
    rise_least_ns INTEGER,
    rise_most_ns INTEGER,
    presence_delay_least_ns INTEGER,
    presence_delay_most_ns INTEGER,
    presence_width_least_ns INTEGER,
    presence_width_most_ns INTEGER,
    grain_ns INTEGER,
    PRIMARY KEY (run, number)
) STRICT, WITHOUT ROWID;

-- Verdicts that are not met, or that the rig could not show. Those that are met are counted with their step.
CREATE TABLE verdict (
    run INTEGER NOT NULL REFERENCES run ON DELETE CASCADE,
    number INTEGER NOT NULL,
    place TEXT NOT NULL,
    sensor INTEGER REFERENCES sensor,
    ruling TEXT NOT NULL,
    subject TEXT NOT NULL,
    expected TEXT NOT NULL,
    source TEXT NOT NULL,
    got TEXT NOT NULL,
    PRIMARY KEY (run, number)
) STRICT, WITHOUT ROWID;

CREATE TABLE sensor (
    id INTEGER PRIMARY KEY,
    rom TEXT NOT NULL UNIQUE
) STRICT;

CREATE TABLE reading (
    run INTEGER NOT NULL REFERENCES run ON DELETE CASCADE,
    number INTEGER NOT NULL,
    place TEXT NOT NULL,
    sensor INTEGER NOT NULL REFERENCES sensor,
    at_ns INTEGER NOT NULL,
    -- Sixteenths of a degree Celsius; none if the reading failed.
    sixteenths INTEGER,
    failure TEXT,
    resolution_bits INTEGER,
    busy_us INTEGER,
    doubts TEXT NOT NULL,
    PRIMARY KEY (run, number)
) STRICT, WITHOUT ROWID;

-- The same, summed up for each sensor, so that one can be followed over months at once.
CREATE TABLE sensor_in_run (
    sensor INTEGER NOT NULL REFERENCES sensor,
    run INTEGER NOT NULL REFERENCES run ON DELETE CASCADE,
    label TEXT,
    readings INTEGER NOT NULL,
    failed INTEGER NOT NULL,
    doubted INTEGER NOT NULL,
    mean_millicelsius REAL,
    least_sixteenths INTEGER,
    most_sixteenths INTEGER,
    last_sixteenths INTEGER,
    PRIMARY KEY (sensor, run)
) STRICT, WITHOUT ROWID;
CREATE INDEX sensor_of_run ON sensor_in_run (run);
CREATE INDEX sensor_by_label ON sensor_in_run (label, sensor);

-- What is watched from night to night.
CREATE TABLE figure (
    run INTEGER NOT NULL REFERENCES run ON DELETE CASCADE,
    kind TEXT NOT NULL,
    subject TEXT NOT NULL,
    value REAL NOT NULL,
    tries INTEGER NOT NULL,
    grain REAL NOT NULL,
    PRIMARY KEY (run, kind, subject)
) STRICT, WITHOUT ROWID;

-- What was found to have changed, from the run in which it showed to the last run in which it still did.
CREATE TABLE finding (
    id INTEGER PRIMARY KEY,
    rig TEXT NOT NULL,
    kind TEXT NOT NULL,
    scenario TEXT NOT NULL,
    matter TEXT NOT NULL,
    subject TEXT NOT NULL,
    first_run INTEGER NOT NULL REFERENCES run ON DELETE CASCADE,
    last_run INTEGER NOT NULL REFERENCES run ON DELETE CASCADE,
    state TEXT NOT NULL,
    text TEXT NOT NULL
) STRICT;
CREATE INDEX finding_of_series ON finding (rig, kind, scenario, state);
