/**
 * Types of the feedproof service, made from openapi.json by openapi-typescript; not to be edited.
 * With openapi-fetch: createClient<paths>({ baseUrl }).
 */

export interface paths {
    "/v1/assessments": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        get?: never;
        put?: never;
        /**
         * Assess one reading set
         * @description Tell from one visit's readings whether the electrical supply is at fault.
         *
         *     The request is a pure function of its body: nothing is stored, it is safe to send again, and the same body to
         *     the same model version gives the same bytes. An empty list of readings is answered with what to read first.
         *     Beside the bounds of the schema, a visit as a whole has bounds: on its unknowns (loads, meters, wires) and on its
         *     work. One that is too large is refused with its figures, the bound, and what to send by itself (codes
         *     `too_many_unknowns`, `too_much_work`).
         *     Cautions and hazards come in the language that Accept-Language asks for, where people have translated them all.
         *     With `?view=screen` the answer is that of `/v1/assessments/screen`, and with another Accept that of
         *     `/v1/assessments/note`: they are operations of their own so that generated clients have one type for each.
         */
        post: operations["assess"];
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/v1/assessments/screen": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        get?: never;
        put?: never;
        /**
         * Assess one reading set, for a small screen
         * @description Give what a screen shows first of an assessment, and no more: 4 kB or less, whatever was sent.
         *
         *     Where there is no room for all, `left_out` counts what is missing: readings to take next and checks first, notices
         *     and warnings after them, dangers never. What the answer rests on is in the whole assessment alone.
         */
        post: operations["assess_for_screen"];
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/v1/assessments/note": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        get?: never;
        put?: never;
        /**
         * Assess one reading set, and give the hand-off note
         * @description Give the assessment in a form for people, by Accept: a page that prints (the default), PDF, Markdown and others.
         *
         *     The note says what the assessment of the same body says.
         */
        post: operations["render_note"];
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/v1/assessments/batch": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        get?: never;
        put?: never;
        /**
         * Assess a stream of reading sets
         * @description Assess many reading sets: one per line in, one answer per line out, in the same order.
         *
         *     Answers are sent while the request is still being read, so memory is bounded whatever the length of the
         *     stream; a client that sends everything before it reads must send pieces of some hundred lines. A line that
         *     cannot be answered gives a problem object on its own line, with the line's number and its reference, and the rest
         *     goes on. Blank lines are counted and not answered. Fewer lines out than in means that the connection was cut.
         *     Request and answer may both be packed as gzip; each line of the answer can be unpacked as soon as it is there.
         */
        post: operations["assess_batch"];
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/v1/simulations": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        get?: never;
        put?: never;
        /**
         * Simulate readings of a stated fault
         * @description Give the readings that a person would see on a stated circuit with a stated fault and stated meters.
         *
         *     The same model that assesses is run forward. The readings come back in the form that an assessment takes; a voltage
         *     or a current beyond what a reading may state is given as the largest. The same request, seed included, to the same
         *     model version gives the same bytes.
         */
        post: operations["simulate"];
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/v1/faults": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /**
         * The faults that can be found
         * @description What each fault means, its limits, its source, and its base rate before any reading.
         */
        get: operations["list_faults"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/v1/cautions": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /**
         * The cautions that can be given
         * @description Each caution with its severity, text and basis, in the language that Accept-Language asks for.
         */
        get: operations["list_cautions"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/v1/supply-systems": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /**
         * The supply systems that can be stated
         * @description Each system with its conductors, nominal voltages and phases.
         */
        get: operations["list_supply_systems"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/v1/meters": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /**
         * The kinds of meter and their typical figures
         * @description Each kind with the figures that stand for what a request leaves out, and their basis.
         */
        get: operations["list_meters"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/v1/conductors": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /**
         * Conductor sizes and their resistance
         * @description Each listed size with cross-section and resistance at 75 degC. Sizes between them are accepted and computed.
         */
        get: operations["list_conductors"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/v1/receptacles": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /**
         * The receptacles that can be stated
         * @description Each with its rating, its contacts, what they are called, and which conductors it lacks.
         */
        get: operations["list_receptacles"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/v1/observations": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /**
         * What a person may have seen
         * @description Each code with what it means and what is not meant. They shift odds and alone establish nothing.
         */
        get: operations["list_observations"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/v1/units": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /**
         * The accepted units and bounds
         * @description The closed list of units by dimension, and the bounds outside which each physical input is refused.
         */
        get: operations["list_units"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/v1/model": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /**
         * The model that answers
         * @description Version and digest of the model, and its base rates in the form that a request takes.
         */
        get: operations["show_model"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/v1/limits": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /**
         * The sizes and rates to keep to
         * @description Every size and rate of this installation, with the status of what is beyond it.
         */
        get: operations["list_limits"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/problems/{name}": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /**
         * What a problem type means
         * @description Give the page that a problem's `type` resolves to.
         */
        get: operations["describe_problem"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/docs": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /**
         * The documentation page
         * @description Show this contract for a person, with a form that sends requests to this service.
         */
        get: operations["show_docs"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/openapi.json": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /**
         * This document
         * @description Give the OpenAPI 3.1 document that this service keeps to, byte for byte the committed one.
         */
        get: operations["show_document"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/health/live": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /**
         * Whether the process runs
         * @description Answer as long as the process can answer at all; depends on nothing else.
         */
        get: operations["live"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/health/ready": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /**
         * Whether requests are taken
         * @description Answer 200 once a self-test set has been assessed, and 503 before, and again once the service is to stop.
         */
        get: operations["ready"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/metrics": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /**
         * Metrics in the Prometheus text format
         * @description Counts, durations and findings; no readings.
         */
        get: operations["metrics"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
}
export type webhooks = Record<string, never>;
export interface components {
    schemas: {
        /**
         * Appliance
         * @description The appliance: what its loads usually are, and what can be asked of it.
         */
        Appliance: {
            /**
             * @description What it is.
             * @example range
             */
            kind: components["schemas"]["ApplianceKind"];
        };
        /**
         * @description What the appliance is.
         * @example range
         * @enum {string}
         */
        ApplianceKind: "range" | "dryer" | "water_heater" | "air_conditioner" | "heat_pump" | "vehicle_charger" | "pump" | "other";
        /**
         * AskedCurrent
         * @description A current to read through one conductor.
         */
        AskedCurrent: {
            /**
             * @description Always `current`: tells a AskedCurrent from the others by its kind. (enum property replaced by openapi-typescript)
             * @enum {string}
             */
            kind: "current";
            /**
             * @description The conductor.
             * @example N
             */
            through: components["schemas"]["ConductorName"];
            /**
             * @description The meter: a name in `meters`, of a kind that can take this reading.
             * @example dmm
             */
            meter: string;
            /**
             * @description The load state: a name in `load_states`, or a kind's own name (`disconnected`, `idle`, `running`, `test_load`). Readings under one label are taken as readings of one circuit.
             * @example disconnected
             */
            load_state: string;
            /**
             * @description Where along the run the reading was taken; left out: `receptacle`. `service_panel` is where neutral and ground are joined (a mobile home's pedestal), `sub_panel` one that a feeder feeds (a mobile home's own panel), `panel` the one that the circuit leaves, where nobody knows which of the two it is. A clamp at a panel is on the circuit's conductor as it leaves, at the receptacle on the run's wire in the box, at the terminals on the cord's. The terminals are part of the circuit only in a load state in which the appliance is connected. Exchanged wires are named by the contact that they land on.
             * @example receptacle
             */
            point?: components["schemas"]["PointName"] | null;
        };
        /**
         * AskedProximity
         * @description A conductor to hold a proximity detector to.
         */
        AskedProximity: {
            /**
             * @description Always `proximity`: tells a AskedProximity from the others by its kind. (enum property replaced by openapi-typescript)
             * @enum {string}
             */
            kind: "proximity";
            /**
             * @description The conductor.
             * @example N
             */
            at: components["schemas"]["ConductorName"];
            /**
             * @description The meter: a name in `meters`, of a kind that can take this reading.
             * @example dmm
             */
            meter: string;
            /**
             * @description The load state: a name in `load_states`, or a kind's own name (`disconnected`, `idle`, `running`, `test_load`). Readings under one label are taken as readings of one circuit.
             * @example disconnected
             */
            load_state: string;
            /**
             * @description Where along the run the reading was taken; left out: `receptacle`. `service_panel` is where neutral and ground are joined (a mobile home's pedestal), `sub_panel` one that a feeder feeds (a mobile home's own panel), `panel` the one that the circuit leaves, where nobody knows which of the two it is. A clamp at a panel is on the circuit's conductor as it leaves, at the receptacle on the run's wire in the box, at the terminals on the cord's. The terminals are part of the circuit only in a load state in which the appliance is connected. Exchanged wires are named by the contact that they land on.
             * @example receptacle
             */
            point?: components["schemas"]["PointName"] | null;
        };
        /** @description A reading to take, told apart by its `kind`. */
        AskedReading: components["schemas"]["AskedVoltage"] | components["schemas"]["AskedProximity"] | components["schemas"]["AskedCurrent"] | components["schemas"]["AskedResistance"];
        /**
         * AskedResistance
         * @description A resistance to read between two conductors of the isolated circuit.
         */
        AskedResistance: {
            /**
             * @description Always `resistance`: tells a AskedResistance from the others by its kind. (enum property replaced by openapi-typescript)
             * @enum {string}
             */
            kind: "resistance";
            /**
             * @description Two different conductors. The order does not matter.
             * @example [
             *       "L1",
             *       "N"
             *     ]
             */
            between: components["schemas"]["ConductorName"][];
            /**
             * @description The meter: a name in `meters`, of a kind that can take this reading.
             * @example dmm
             */
            meter: string;
            /**
             * @description The load state: a name in `load_states`, or a kind's own name (`disconnected`, `idle`, `running`, `test_load`). Readings under one label are taken as readings of one circuit.
             * @example disconnected
             */
            load_state: string;
            /**
             * @description Where along the run the reading was taken; left out: `receptacle`. `service_panel` is where neutral and ground are joined (a mobile home's pedestal), `sub_panel` one that a feeder feeds (a mobile home's own panel), `panel` the one that the circuit leaves, where nobody knows which of the two it is. A clamp at a panel is on the circuit's conductor as it leaves, at the receptacle on the run's wire in the box, at the terminals on the cord's. The terminals are part of the circuit only in a load state in which the appliance is connected. Exchanged wires are named by the contact that they land on.
             * @example receptacle
             */
            point?: components["schemas"]["PointName"] | null;
            /**
             * @description The meter's highest range; above it the reading is over range. Left out: none. A number in ohm, or a string with a unit. From 0 to 1e+11 ohm.
             * @example 40 Mohm
             */
            highest?: components["schemas"]["MeterRange"] | null;
        };
        /**
         * AskedVoltage
         * @description A voltage to read between two conductors.
         */
        AskedVoltage: {
            /**
             * @description Always `voltage`: tells a AskedVoltage from the others by its kind. (enum property replaced by openapi-typescript)
             * @enum {string}
             */
            kind: "voltage";
            /**
             * @description Two different conductors, or a conductor and `metalwork`: a box, a pipe or a frame, of which nobody knows whether it is grounded. `metalwork` only where `equipment_ground` is `absent`, and not at a panel. The order does not matter.
             * @example [
             *       "L1",
             *       "N"
             *     ]
             */
            between: components["schemas"]["TerminalName"][];
            /**
             * @description The meter: a name in `meters`, of a kind that can take this reading.
             * @example dmm
             */
            meter: string;
            /**
             * @description The load state: a name in `load_states`, or a kind's own name (`disconnected`, `idle`, `running`, `test_load`). Readings under one label are taken as readings of one circuit.
             * @example disconnected
             */
            load_state: string;
            /**
             * @description Where along the run the reading was taken; left out: `receptacle`. `service_panel` is where neutral and ground are joined (a mobile home's pedestal), `sub_panel` one that a feeder feeds (a mobile home's own panel), `panel` the one that the circuit leaves, where nobody knows which of the two it is. A clamp at a panel is on the circuit's conductor as it leaves, at the receptacle on the run's wire in the box, at the terminals on the cord's. The terminals are part of the circuit only in a load state in which the appliance is connected. Exchanged wires are named by the contact that they land on.
             * @example receptacle
             */
            point?: components["schemas"]["PointName"] | null;
        };
        /**
         * AssessedSupply
         * @description The supply that the readings were taken to come from.
         */
        AssessedSupply: {
            /**
             * @description Supply system (see `/v1/supply-systems`).
             * @example split_phase_120_240
             */
            system: components["schemas"]["SupplySystemCode"];
            /**
             * @description Line frequency [Hz].
             * @example 60
             */
            frequency: number;
            /**
             * @description The legs.
             * @example [
             *       {
             *         "conductor": "L1",
             *         "voltage": 121.5,
             *         "angle": 0,
             *         "unit": "V"
             *       }
             *     ]
             */
            legs: components["schemas"]["LegVoltage"][];
        };
        /**
         * AssessedVisit
         * @description The visit as the note heads it: what the request states, in words; null where it states nothing.
         */
        AssessedVisit: {
            /**
             * @description The request's own.
             * @example INVENTED campground
             */
            site: string | null;
            /**
             * @description Kind and name, as far as stated.
             * @example Range, INVENTED range 30 in
             */
            appliance: string | null;
            /**
             * @description The stated receptacle (NEMA WD 6), or `hardwired`.
             * @example 14-50R
             */
            receptacle: string | null;
            /**
             * @description The stated cable of the branch circuit.
             * @example 6 AWG, copper, 18 m
             */
            run: string | null;
            /**
             * @description The request's own.
             * @example INVENTED technician 7
             */
            taken_by: string | null;
            /**
             * @description The request's own.
             * @example 2026-11-29T14:30-05:00
             */
            taken_at: string | null;
            /**
             * @description The request's own.
             * @example INVENTED: dmm until 2027-03
             */
            calibration: string | null;
            /**
             * @description The meters of the request, read or not.
             * @example [
             *       {
             *         "name": "loz",
             *         "proved": true
             *       }
             *     ]
             */
            meters: components["schemas"]["VisitMeter"][];
        };
        /**
         * Assessment
         * @description What the readings say of the supply, and what to do about it.
         */
        Assessment: {
            /**
             * @description The request's own reference.
             * @example INVENTED, cabin 12, range
             */
            reference: string | null;
            /**
             * @description The most probable state of the supply. `none_found` is a statement about these readings and their detection limits, and never that the supply is free of danger.
             * @example {
             *       "place": "branch_neutral",
             *       "title": "Branch neutral bad: open",
             *       "parts": [],
             *       "degree": "open",
             *       "degree_probability": 0.999,
             *       "fault": "open_neutral",
             *       "conductor": "N",
             *       "location": "between_panel_and_receptacle",
             *       "probability": 0.997,
             *       "also": []
             *     }
             */
            finding: components["schemas"]["Finding"];
            /**
             * @description Of the place and conductor. `established`: 0.97 or more (0.95 where no fault was found), and readings speak for it; `probable`: 0.75 or more; `undetermined`: the readings do not tell, see `candidates` and `next_readings`.
             * @example established
             */
            determination: components["schemas"]["Determination"];
            /**
             * @description How far the finding can be leaned on.
             * @example {
             *       "level": "high",
             *       "reasons": []
             *     }
             */
            confidence: components["schemas"]["Confidence"];
            /**
             * @description Every fault considered that has at least 0.1 % of the probability, most probable first.
             * @example [
             *       {
             *         "fault": "open_neutral",
             *         "conductor": "N",
             *         "place": "branch_neutral",
             *         "title": "Open neutral",
             *         "probability": 0.997,
             *         "log_evidence": -6.2,
             *         "also": []
             *       }
             *     ]
             */
            candidates: components["schemas"]["Candidate"][];
            /**
             * @description Voltage of the neutral to the ground bar of the service panel (not earth: see `neutral_to_earth`), per load state, and per low-impedance reading while that meter is connected.
             * @example [
             *       {
             *         "value": 116.4,
             *         "low": 113,
             *         "high": 119.8,
             *         "unit": "V",
             *         "bound": "two_sided",
             *         "limit": null,
             *         "told_by": "readings",
             *         "display": "116.4 V (113 to 119.8 V)",
             *         "title": "Neutral to ground, appliance connected, not started, no meter connected",
             *         "load_state": "idle",
             *         "point": "receptacle",
             *         "during_reading": null,
             *         "angle": 0
             *       }
             *     ]
             */
            neutral_to_ground: components["schemas"]["NeutralToGround"][];
            /**
             * @description Per conductor, of the path from the panel to the point.
             * @example [
             *       {
             *         "value": 4100,
             *         "low": 1900,
             *         "high": 9900,
             *         "unit": "ohm",
             *         "bound": "at_least",
             *         "limit": 1900,
             *         "told_by": "readings",
             *         "display": "at least 1.9 kΩ",
             *         "title": "Neutral, panel to receptacle",
             *         "conductor": "N",
             *         "point": "receptacle",
             *         "section": "branch",
             *         "heat": null,
             *         "sound": {
             *           "low": 0.02,
             *           "high": 0.09
             *         }
             *       }
             *     ]
             */
            resistances: components["schemas"]["ConductorResistance"][];
            /**
             * @description Per conductor, the smallest series resistance that these readings would have shown.
             * @example [
             *       {
             *         "conductor": "N",
             *         "value": 42,
             *         "unit": "ohm",
             *         "meaning": "A joint below 42 ohm could hide."
             *       }
             *     ]
             */
            detection_limits: components["schemas"]["DetectionLimit"][];
            /**
             * @description Per reading of the request, in its order.
             * @example [
             *       {
             *         "reading": 1,
             *         "id": null,
             *         "observed": {
             *           "value": 7,
             *           "unit": "V",
             *           "over_range": false,
             *           "display": "7 V"
             *         },
             *         "expected_if_sound": {
             *           "low": 118.2,
             *           "high": 125.9
             *         },
             *         "expected_under_finding": {
             *           "low": 0,
             *           "high": 11
             *         },
             *         "flag": "low",
             *         "bits": 12.4,
             *         "identity": null,
             *         "test_current": 0.0023
             *       }
             *     ]
             */
            evidence: components["schemas"]["Evidence"][];
            /**
             * @description Readings that no circuit can give together; empty where all fit.
             * @example [
             *       {
             *         "code": "off_the_line",
             *         "readings": [
             *           0,
             *           1,
             *           2
             *         ],
             *         "ids": [
             *           null,
             *           null,
             *           null
             *         ],
             *         "text": "The leg readings fall 7 V short."
             *       }
             *     ]
             */
            checks: components["schemas"]["Check"][];
            /**
             * @description What to read next, most worth taking first, the less hazardous first among near equals; only what is worth taking. Empty: see `next_reason`.
             * @example [
             *       {
             *         "id": "voltage L1-N receptacle disconnected loz",
             *         "title": "Voltage L1 to neutral at the receptacle, appliance disconnected",
             *         "reading": {
             *           "kind": "voltage",
             *           "between": [
             *             "L1",
             *             "N"
             *           ],
             *           "meter": "loz",
             *           "load_state": "disconnected",
             *           "point": "receptacle"
             *         },
             *         "observation": null,
             *         "load_state": {
             *           "kind": "disconnected"
             *         },
             *         "meter": null,
             *         "meter_kind": "low_impedance_voltmeter",
             *         "steps": [
             *           "Leave the appliance disconnected."
             *         ],
             *         "expect": [],
             *         "why_code": "tells_apart",
             *         "information": 0.62,
             *         "why": "It tells an open neutral from a sound one.",
             *         "hazards": []
             *       }
             *     ]
             */
            next_readings: components["schemas"]["NextReading"][];
            /**
             * @description What to do with the job: `stop_and_refer` (see `refer_to`), `repair_and_retest` (the technician's own part, de-energized), `take_more_readings`, or `no_supply_fault_found`. It drives the screen.
             * @example stop_and_refer
             */
            disposition: components["schemas"]["Disposition"];
            /**
             * @description The cautions that apply, ranked. Never empty.
             * @example [
             *       {
             *         "rank": 1,
             *         "code": "neutral_as_live",
             *         "severity": "danger",
             *         "title": "Treat the neutral as live",
             *         "text": "Treat the neutral as live, even if it reads near 0 V now.",
             *         "basis": "Common practice, no source",
             *         "because": "The neutral may stand 116 V above ground.",
             *         "because_code": "probability"
             *       }
             *     ]
             */
            cautions: components["schemas"]["Caution"][];
            /**
             * @description Every value that the request left out and the service filled in.
             * @example [
             *       {
             *         "pointer": "/meters/dmm/input_impedance",
             *         "value": 10000000,
             *         "unit": "ohm",
             *         "basis": "typical of a high-impedance voltmeter"
             *       }
             *     ]
             */
            assumptions: components["schemas"]["Assumption"][];
            /**
             * @description Which model answered which request.
             * @example {
             *       "version": "0.1.0",
             *       "priors_digest": "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08",
             *       "request_digest": null
             *     }
             */
            model: components["schemas"]["ModelIdentity"];
            /**
             * @description The supply that the readings were taken to come from.
             * @example {
             *       "system": "split_phase_120_240",
             *       "frequency": 60,
             *       "legs": [
             *         {
             *           "conductor": "L1",
             *           "voltage": 121.5,
             *           "angle": 0,
             *           "unit": "V"
             *         }
             *       ]
             *     }
             */
            supply: components["schemas"]["AssessedSupply"] | null;
            /**
             * @description What was found, in the one line that a screen shows first.
             * @example Service neutral bad: over 99 %
             */
            headline: string;
            /**
             * @description What to do first, in one line.
             * @example Stop. Hand this to the utility and to a licensed electrician.
             */
            next_action: string;
            /**
             * @description Who must act, from the parts of 5 % or more: any of `utility`, `electrician`, `technician` (cord, plug, terminal block: de-energized work). Empty: nobody.
             * @example [
             *       "utility",
             *       "electrician"
             *     ]
             */
            refer_to: components["schemas"]["PartyCode"][];
            /**
             * @description Why there is nothing to read next: `enough`, `nothing_would_tell` (no permitted reading would decide), or `stop_first` (a dangerous place is probable: stop and refer, and read no further). Null: see `next_readings`.
             * @example null
             */
            next_reason: components["schemas"]["NextReason"] | null;
            /**
             * @description Voltage of the panel's neutral, and of every frame bonded to it, to the transformer's grounded point, per load state. Empty behind a generator, where there is no such point.
             * @example [
             *       {
             *         "value": 24.1,
             *         "low": 22.9,
             *         "high": 25.4,
             *         "unit": "V",
             *         "bound": "two_sided",
             *         "limit": null,
             *         "told_by": "readings",
             *         "display": "24.1 V (22.9 to 25.4 V)",
             *         "title": "Neutral and grounded frames to earth, appliance connected, not started",
             *         "load_state": "idle"
             *       }
             *     ]
             */
            neutral_to_earth: components["schemas"]["NeutralToEarth"][];
            /**
             * @description Where the run is open, in metres from the outlet, where readings tell.
             * @example {
             *       "value": 0.1,
             *       "low": 0,
             *       "high": 0.4,
             *       "unit": "m",
             *       "bound": "two_sided",
             *       "limit": null,
             *       "told_by": "readings",
             *       "display": "0.1 m (0 to 0.4 m)",
             *       "title": "Break in the neutral, from the outlet back",
             *       "conductor": "N"
             *     }
             */
            break_position: components["schemas"]["BreakPosition"] | null;
            /**
             * @description The visit as the request states it, for the head of a note.
             * @example {
             *       "site": "INVENTED campground",
             *       "appliance": "Range",
             *       "receptacle": "14-50R",
             *       "run": "6 AWG",
             *       "taken_by": "INVENTED technician 7",
             *       "taken_at": "2026-11-29",
             *       "calibration": null,
             *       "meters": [
             *         {
             *           "name": "loz",
             *           "proved": true
             *         }
             *       ]
             *     }
             */
            visit: components["schemas"]["AssessedVisit"] | null;
        };
        /**
         * AssessmentRequest
         * @description One visit's readings, with the meters and the circuit conditions they were taken under.
         */
        AssessmentRequest: {
            /**
             * @description The caller's own reference, given back in the answer and kept nowhere. At most 200 characters, no control characters.
             * @example INVENTED, cabin 12, range
             */
            reference?: string | null;
            /**
             * @description Where, on what, by whom and when, for the head of the note.
             * @example {
             *       "site": "INVENTED campground",
             *       "taken_by": "INVENTED technician 7",
             *       "taken_at": "2026-11-29"
             *     }
             */
            visit?: components["schemas"]["VisitDetails"] | null;
            /**
             * @description What is known of the supply. Left out: a 120/240 V split-phase supply at 60 Hz.
             * @example {
             *       "system": "split_phase_120_240",
             *       "frequency": 60,
             *       "equipment_ground": "present"
             *     }
             */
            supply?: components["schemas"]["Supply"] | null;
            /**
             * @description The appliance. Left out: any.
             * @example {
             *       "kind": "range"
             *     }
             */
            appliance?: components["schemas"]["Appliance"] | null;
            /**
             * @description The meters used, by the caller's own names. A figure that is left out takes the published typical value of the meter's kind (see `/v1/meters`) and is listed in the answer's `assumptions`.
             * @example {
             *       "dmm": {
             *         "kind": "voltmeter",
             *         "input_impedance": "10 Mohm",
             *         "accuracy_percent": 0.8,
             *         "accuracy_counts": 3,
             *         "resolution": "0.1 V"
             *       },
             *       "loz": {
             *         "kind": "voltmeter",
             *         "input_impedance": "3 kohm",
             *         "accuracy_percent": 1.5,
             *         "accuracy_counts": 3,
             *         "resolution": "1 V"
             *       }
             *     }
             */
            meters?: {
                [key: string]: components["schemas"]["Meter"];
            } | null;
            /**
             * @description The appliance's conditions, by the caller's own names. A kind's own name needs no entry.
             * @example {
             *       "heating": {
             *         "kind": "running",
             *         "loads": [
             *           {
             *             "between": [
             *               "L1",
             *               "L2"
             *             ],
             *             "power": "4.8 kW"
             *           }
             *         ]
             *       }
             *     }
             */
            load_states?: {
                [key: string]: components["schemas"]["LoadState"];
            } | null;
            /**
             * @description The readings, at most 200. The order does not matter. An empty list is answered with what to read first.
             * @example [
             *       {
             *         "kind": "voltage",
             *         "between": [
             *           "L1",
             *           "L2"
             *         ],
             *         "value": "247 V",
             *         "meter": "loz",
             *         "load_state": "disconnected",
             *         "point": "receptacle"
             *       },
             *       {
             *         "kind": "voltage",
             *         "between": [
             *           "L1",
             *           "N"
             *         ],
             *         "value": "7 V",
             *         "meter": "loz",
             *         "load_state": "disconnected",
             *         "point": "receptacle"
             *       }
             *     ]
             */
            readings: components["schemas"]["Reading"][];
            /**
             * @description What a person saw or was told (see `/v1/observations`), each once: codes, or objects where there is more to say. They shift odds and alone establish nothing.
             * @example [
             *       "breaker_found_tripped",
             *       {
             *         "code": "lights_brighten_and_dim",
             *         "where": "whole_building"
             *       }
             *     ]
             */
            observations?: components["schemas"]["ObservationItem"][] | null;
            /**
             * @description Base rate by fault (see `/v1/faults`), to stand in for the model's own: shares of visits, up to 1, or counts of visits (where one is above 1), which share what the published rates give their faults together. A fault left out keeps its published rate; 0 removes a fault, `none_found` excepted. All are scaled to sum to 1.
             * @example {
             *       "none_found": 60,
             *       "open_neutral": 12,
             *       "high_resistance_neutral": 8
             *     }
             */
            base_rates?: {
                [key: string]: number;
            } | null;
        };
        /**
         * Assumption
         * @description A value that the request left out and the service filled in.
         */
        Assumption: {
            /**
             * @description JSON pointer (RFC 6901) to where the request would state it.
             * @example /meters/dmm/input_impedance
             */
            pointer: string;
            /**
             * @description What was taken, in `unit`.
             * @example 10000000
             */
            value: components["schemas"]["PlainValue"];
            /**
             * @description Unit of the value. Null: it has none.
             * @example ohm
             */
            unit: string | null;
            /**
             * @description Where the value comes from.
             * @example typical of a high-impedance voltmeter
             */
            basis: string;
        };
        /**
         * @description On which sides the readings bound an estimate. The list may grow.
         * @example two_sided
         */
        Bound: string;
        /**
         * BoundEntry
         * @description The bounds outside which one physical input is refused.
         */
        BoundEntry: {
            /**
             * @description The input.
             * @example read_voltage
             */
            quantity: string;
            /**
             * @description Its physical dimension.
             * @example voltage
             */
            dimension: string;
            /**
             * @description Smallest accepted value, in `unit`.
             * @example 0
             */
            low: number;
            /**
             * @description Largest accepted value, in `unit`.
             * @example 1000
             */
            high: number;
            /**
             * @description Unit of both.
             * @example V
             */
            unit: string;
            /**
             * @description Where the bounds come from.
             * @example a magnitude; low voltage ends at 1000 V (IEC 60038)
             */
            why: string;
        };
        /**
         * BreakPosition
         * @description Where along the run a conductor is open: metres from the outlet back to the break.
         */
        BreakPosition: {
            /**
             * @description The posterior median, in `unit`.
             * @example 116.4
             */
            value: number;
            /**
             * @description Lower end of the 90 % credible interval, in `unit`.
             * @example 113
             */
            low: number;
            /**
             * @description Upper end of the 90 % credible interval, in `unit`.
             * @example 119.8
             */
            high: number;
            /**
             * @description Unit of the numbers beside it.
             * @example V
             * @example ohm
             * @example W
             */
            unit: string;
            /**
             * @description `two_sided`, or `at_least` or `at_most` where the readings bound the quantity on one side only.
             * @example two_sided
             */
            bound: components["schemas"]["Bound"];
            /**
             * @description The one figure of a one-sided bound, in `unit`. Null: it is two-sided.
             * @example 4100
             * @example null
             */
            limit: number | null;
            /**
             * @description `readings`; `prior` where they have not narrowed what was to be expected anyway.
             * @example readings
             */
            told_by: components["schemas"]["ToldBy"];
            /**
             * @description As a person writes it.
             * @example 116 V (113 to 120 V)
             * @example at least 4.1 kΩ
             */
            display: string;
            /**
             * @description What it is, in words.
             * @example Neutral, panel to receptacle
             */
            title: string;
            /**
             * @description The conductor that it sits on: `L1`, `L2`, `N` or `G`. Null: on none, or on a leg that is not told.
             * @example N
             */
            conductor: components["schemas"]["ConductorCode"] | null;
        };
        /**
         * Candidate
         * @description A fault that was considered and has at least 0.1 % of the probability.
         */
        Candidate: {
            /**
             * @description Name of the fault (see `/v1/faults`). The list may grow.
             * @example open_neutral
             * @example none_found
             */
            fault: components["schemas"]["FaultCode"];
            /**
             * @description The conductor that it sits on: `L1`, `L2`, `N` or `G`. Null: on none, or on a leg that is not told.
             * @example N
             */
            conductor: components["schemas"]["ConductorCode"] | null;
            /**
             * @description A place of the tree: `none`; `leg` (`service_leg`, `feeder_leg`, `branch_leg`, `cord_leg`); `neutral` (`service_neutral`, `feeder_neutral`, `branch_neutral`, `cord_neutral`); `both_legs` (`supply_lost`, `breaker`); `ground`; `supply_voltage`; `supply_system` (`other_supply_system`, `neutral_not_bonded`); `connections` (`transposed`, `joined`, `legs_from_same_pole`); `appliance` (`leak_to_ground`); `tester`; `readings`. The list may grow.
             * @example service_neutral
             */
            place: components["schemas"]["PlaceCode"];
            /**
             * @description The fault in words.
             * @example Open neutral
             */
            title: string;
            /**
             * @description Posterior probability of the fault at all of its places, 0 to 1 [1]; `place` is the likeliest of them. Over all faults considered they sum to 1.
             * @example 0.997
             */
            probability: number;
            /**
             * @description Natural logarithm of the marginal likelihood of all readings under this fault [nat].
             * @example -6.2
             */
            log_evidence: number;
            /**
             * @description Further faults of the same candidate, where two are present at once.
             * @example [
             *       {
             *         "fault": "open_neutral",
             *         "conductor": "N"
             *       }
             *     ]
             */
            also: components["schemas"]["FaultPart"][];
        };
        /**
         * Caution
         * @description A caution that applies to this job.
         */
        Caution: {
            /**
             * @description Place in the order to show them in, 1 first: this case's own hazards, then what always holds.
             * @example 1
             */
            rank: number;
            /**
             * @description Name of the caution (see `/v1/cautions`). The list may grow.
             * @example neutral_as_live
             */
            code: components["schemas"]["CautionCode"];
            /**
             * @description By the meanings of ANSI Z535.4: `danger` (not avoided, it will kill or seriously injure), `warning` (it could) or `notice` (nobody is injured). It says nothing of the rank.
             * @example danger
             */
            severity: components["schemas"]["Severity"];
            /**
             * @description What to do, short, for the top of a screen. Where the hazard is only possible, it begins with an "if" that names what a person can see or read.
             * @example Treat the neutral as live
             */
            title: string;
            /**
             * @description The same in full.
             * @example Treat the neutral as live, even if it reads near 0 V now.
             */
            text: string;
            /**
             * @description Where it comes from.
             * @example Common practice, no source
             */
            basis: string;
            /**
             * @description What set it off.
             * @example The neutral may stand 116 V above ground.
             */
            because: string;
            /**
             * @description The same as a word: `probability`, `shown` (by a reading or observation), `unproven`, `proven` (only by a tester that shows nothing), `bonded`, `unknown`, `upstream`, `always`. The list may grow.
             * @example probability
             */
            because_code: string;
        };
        /**
         * CautionCatalogue
         * @description All cautions that the service can give.
         */
        CautionCatalogue: {
            /**
             * @description Language of the texts (BCP 47), chosen by Accept-Language.
             * @example en
             */
            language: string;
            /**
             * @description The cautions. The list may grow.
             * @example [
             *       {
             *         "code": "licensed_work",
             *         "severity": "notice",
             *         "title": "Treat the neutral as live",
             *         "text": "Local codes decide; where they differ from this answer, follow them.",
             *         "possible": null,
             *         "meanwhile": null,
             *         "shown": null,
             *         "because": "The neutral may stand {volts} V high.",
             *         "basis": [
             *           {
             *             "source": "Common practice, no source",
             *             "status": "practice"
             *           }
             *         ]
             *       }
             *     ]
             */
            cautions: components["schemas"]["CautionEntry"][];
        };
        /**
         * @description A caution (see `/v1/cautions`). The list may grow.
         * @example heat_at_joint_urgent
         */
        CautionCode: string;
        /**
         * CautionEntry
         * @description One caution that the service can give.
         */
        CautionEntry: {
            /**
             * @description As answers write it.
             * @example licensed_work
             */
            code: components["schemas"]["CautionCode"];
            /**
             * @description `danger`, `warning` or `notice`, where the hazard is likely or shown; where it is only possible, or only unproven, a danger is given as a warning.
             * @example notice
             */
            severity: components["schemas"]["Severity"];
            /**
             * @description What to do, short and imperative.
             * @example Treat the neutral as live
             */
            title: string;
            /**
             * @description The same in full.
             * @example Local codes decide; where they differ from this answer, follow them.
             */
            text: string;
            /**
             * @description The same where the hazard is only possible. Null: it has no such form.
             * @example null
             */
            possible: components["schemas"]["CautionForm"] | null;
            /**
             * @description The same where the answer names a further reading. Null: it has no such form.
             * @example null
             */
            meanwhile: components["schemas"]["CautionForm"] | null;
            /**
             * @description The same where a reading shows it; `{read}` stands for that reading. Null: it has no such form.
             * @example null
             */
            shown: components["schemas"]["CautionForm"] | null;
            /**
             * @description What sets it off; figures of the job stand in braces.
             * @example The neutral may stand {volts} V high.
             */
            because: string;
            /**
             * @description Its sources.
             * @example [
             *       {
             *         "source": "Common practice, no source",
             *         "status": "practice"
             *       }
             *     ]
             */
            basis: components["schemas"]["CautionSource"][];
        };
        /**
         * CautionForm
         * @description A caution's words for one kind of case.
         */
        CautionForm: {
            /**
             * @description Short and imperative.
             * @example If the neutral reads 30 V or more: treat it as live
             */
            title: string;
            /**
             * @description The same in full.
             * @example If the neutral reads 30 V or more, treat it as live.
             */
            text: string;
        };
        /**
         * CautionSource
         * @description One source of a caution.
         */
        CautionSource: {
            /**
             * @description Where it comes from; says so where it is from memory.
             * @example ANSI C84.1 range A
             */
            source: string;
            /**
             * @description How well the source is known: `read`, `secondary` (a copy was read), `memory`, `computed` or `practice` (there is none).
             * @example practice
             */
            status: string;
        };
        /**
         * Check
         * @description Readings that no single circuit can give together.
         */
        Check: {
            /**
             * @description What does not fit, as a word. The list may grow.
             * @example off_the_line
             */
            code: components["schemas"]["CheckCode"];
            /**
             * @description Indexes of the readings concerned.
             * @example [
             *       0,
             *       1,
             *       2
             *     ]
             */
            readings: number[];
            /**
             * @description Their own ids, in the same order; null: it has none.
             * @example [
             *       "first",
             *       null,
             *       null
             *     ]
             */
            ids: (string | null)[];
            /**
             * @description The same in words.
             * @example The two leg readings fall 7 V short of leg to leg.
             */
            text: string;
        };
        /**
         * @description What does not fit between readings. The list may grow.
         * @example sum_below_whole
         */
        CheckCode: string;
        /**
         * ClampAmmeter
         * @description A clamp round one conductor.
         */
        ClampAmmeter: {
            /**
             * @description Always `clamp_ammeter`: tells a ClampAmmeter from the others by its kind. (enum property replaced by openapi-typescript)
             * @enum {string}
             */
            kind: "clamp_ammeter";
            /**
             * @description Limit of error as a share of the reading, in percent, 0 to 50. Left out: typical of the kind.
             * @example 0.8
             */
            accuracy_percent?: number | null;
            /**
             * @description Limit of error in counts of the resolution, 0 to 1000, added to the share of the reading. Left out: typical of the kind.
             * @example 3
             */
            accuracy_counts?: number | null;
            /**
             * @description Smallest step shown. Left out: 0.01 A. A number in A, or a string with a unit. From 1e-06 to 10 A.
             * @example 0.01 A
             * @example 0.01
             */
            resolution?: components["schemas"]["CurrentResolution"] | null;
        };
        /**
         * ConductorCatalogue
         * @description Conductor sizes with their resistance. Sizes between them are computed.
         */
        ConductorCatalogue: {
            /**
             * @description Thin to thick, gauges before square millimetres.
             * @example [
             *       {
             *         "size": "6 AWG",
             *         "area": {
             *           "value": 13.3,
             *           "unit": "mm2"
             *         },
             *         "copper": {
             *           "value": 1.61,
             *           "unit": "ohm/km"
             *         },
             *         "aluminum": {
             *           "value": 2.65,
             *           "unit": "ohm/km"
             *         },
             *         "source": "ANSI C84.1 range A"
             *       }
             *     ]
             */
            conductors: components["schemas"]["ConductorEntry"][];
        };
        /**
         * @description A conductor, or metalwork of unknown connection. The list may grow.
         * @example L1
         */
        ConductorCode: string;
        /**
         * ConductorEntry
         * @description One conductor size.
         */
        ConductorEntry: {
            /**
             * @description As requests write it.
             * @example 6 AWG
             */
            size: string;
            /**
             * @description Cross-section of metal.
             * @example {
             *       "value": 13.3,
             *       "unit": "mm2"
             *     }
             */
            area: components["schemas"]["Measure"];
            /**
             * @description Direct-current resistance of copper at 75 degC.
             * @example {
             *       "value": 1.61,
             *       "unit": "ohm/km"
             *     }
             */
            copper: components["schemas"]["Measure"];
            /**
             * @description Direct-current resistance of aluminum at 75 degC.
             * @example {
             *       "value": 2.65,
             *       "unit": "ohm/km"
             *     }
             */
            aluminum: components["schemas"]["Measure"];
            /**
             * @description Where it comes from; says so where it is from memory.
             * @example ANSI C84.1 range A
             */
            source: string;
        };
        /**
         * @description A conductor: a leg, the neutral, or the equipment ground.
         * @example L1
         * @enum {string}
         */
        ConductorName: "L1" | "L2" | "N" | "G";
        /**
         * ConductorResistance
         * @description Series resistance of one conductor in one section.
         */
        ConductorResistance: {
            /**
             * @description The posterior median, in `unit`.
             * @example 116.4
             */
            value: number;
            /**
             * @description Lower end of the 90 % credible interval, in `unit`.
             * @example 113
             */
            low: number;
            /**
             * @description Upper end of the 90 % credible interval, in `unit`.
             * @example 119.8
             */
            high: number;
            /**
             * @description Unit of the numbers beside it.
             * @example V
             * @example ohm
             * @example W
             */
            unit: string;
            /**
             * @description `two_sided`, or `at_least` or `at_most` where the readings bound the quantity on one side only.
             * @example two_sided
             */
            bound: components["schemas"]["Bound"];
            /**
             * @description The one figure of a one-sided bound, in `unit`. Null: it is two-sided.
             * @example 4100
             * @example null
             */
            limit: number | null;
            /**
             * @description `readings`; `prior` where they have not narrowed what was to be expected anyway.
             * @example readings
             */
            told_by: components["schemas"]["ToldBy"];
            /**
             * @description As a person writes it.
             * @example 116 V (113 to 120 V)
             * @example at least 4.1 kΩ
             */
            display: string;
            /**
             * @description What it is, in words.
             * @example Neutral, panel to receptacle
             */
            title: string;
            /**
             * @description The conductor: `L1`, `L2`, `N` or `G`.
             * @example N
             */
            conductor: components["schemas"]["ConductorCode"];
            /**
             * @description The point along the run: `service_panel`, `receptacle` or `appliance_terminals`.
             * @example receptacle
             */
            point: components["schemas"]["PointCode"];
            /**
             * @description `branch` (from its panel to the point), `feeder` or `service`.
             * @example branch
             */
            section: components["schemas"]["SectionCode"];
            /**
             * @description Heat in that resistance at the load current [W]. Null: no load current is known.
             * @example {
             *       "value": 31,
             *       "low": 22,
             *       "high": 44,
             *       "unit": "W",
             *       "bound": "two_sided",
             *       "limit": null,
             *       "told_by": "readings",
             *       "display": "31 W (22 to 44 W)"
             *     }
             */
            heat: components["schemas"]["Estimate"] | null;
            /**
             * @description What a sound path of this run would have, nine times of ten [ohm].
             * @example {
             *       "low": 0.02,
             *       "high": 0.09
             *     }
             */
            sound: components["schemas"]["Expected"] | null;
        };
        /**
         * Confidence
         * @description How far the finding can be leaned on, with reasons that a person can act on.
         *
         *     It is about the evidence, and no third scale of how probable the finding is: `disposition` drives the screen.
         */
        Confidence: {
            /**
             * @description `high`, `moderate`, `low` or `none`.
             * @example high
             */
            level: components["schemas"]["ConfidenceLevel"];
            /**
             * @description Why. A reading that the finding does not explain stands first.
             * @example [
             *       {
             *         "code": "one_reading_alone",
             *         "text": "One reading alone carries the finding.",
             *         "readings": [
             *           1
             *         ]
             *       }
             *     ]
             */
            reasons: components["schemas"]["Reason"][];
        };
        /**
         * @description How far a finding can be leaned on. The list may grow.
         * @example high
         */
        ConfidenceLevel: string;
        /**
         * ContactEntry
         * @description One contact of a receptacle.
         */
        ContactEntry: {
            /**
             * @description As requests write it.
             * @example N
             */
            conductor: components["schemas"]["ConductorCode"];
            /**
             * @description Mark of its terminal: X and Y the legs, W the neutral, G the ground.
             * @example W
             */
            letter: string;
            /**
             * @description What it is called, and how it looks.
             * @example neutral contact, silver terminal W
             */
            name: string;
        };
        /**
         * CurrentReading
         * @description A current through one conductor, by a clamp.
         */
        CurrentReading: {
            /**
             * @description Always `current`: tells a CurrentReading from the others by its kind. (enum property replaced by openapi-typescript)
             * @enum {string}
             */
            kind: "current";
            /**
             * @description The conductor.
             * @example N
             */
            through: components["schemas"]["ConductorName"];
            /**
             * @description What the clamp showed. A number in A, or a string with a unit. From 0 to 1000 A.
             * @example 4.2
             * @example 4.2 A
             */
            value: components["schemas"]["ReadCurrent"];
            /**
             * @description The meter: a name in `meters`, of a kind that can take this reading.
             * @example dmm
             */
            meter: string;
            /**
             * @description The load state: a name in `load_states`, or a kind's own name (`disconnected`, `idle`, `running`, `test_load`). Readings under one label are taken as readings of one circuit.
             * @example disconnected
             */
            load_state: string;
            /**
             * @description Where along the run the reading was taken; left out: `receptacle`. `service_panel` is where neutral and ground are joined (a mobile home's pedestal), `sub_panel` one that a feeder feeds (a mobile home's own panel), `panel` the one that the circuit leaves, where nobody knows which of the two it is. A clamp at a panel is on the circuit's conductor as it leaves, at the receptacle on the run's wire in the box, at the terminals on the cord's. The terminals are part of the circuit only in a load state in which the appliance is connected. Exchanged wires are named by the contact that they land on.
             * @example receptacle
             */
            point?: components["schemas"]["PointName"] | null;
            /**
             * @description The caller's own name of the reading, given back wherever the answer speaks of it, once in a request. Left out: answers speak of its index.
             * @example first
             */
            id?: string | null;
            /**
             * @description The `id` of the reading that this one takes again, later: the same conductors, point and load state. Both count, and their order is known.
             * @example first
             */
            repeats?: string | null;
        };
        /**
         * @description A current: a number in A, or a string with a unit of `/v1/units`. From 1e-06 to 10 A: one count of the display.
         * @example 0.01 A
         * @example 0.01
         */
        CurrentResolution: number | string;
        /**
         * @description How bad a joint or a conductor is. The list may grow.
         * @example open
         */
        DegreeCode: string;
        /**
         * DetectionLimit
         * @description The smallest series resistance in a conductor that these readings would have shown.
         */
        DetectionLimit: {
            /**
             * @description The conductor: `L1`, `L2`, `N` or `G`.
             * @example N
             */
            conductor: components["schemas"]["ConductorCode"];
            /**
             * @description [ohm]. Null: no resistance at all, not even an open conductor, would have shown.
             * @example 42
             */
            value: number | null;
            /**
             * @description Unit of the numbers beside it.
             * @example V
             * @example ohm
             * @example W
             */
            unit: string;
            /**
             * @description The same in words.
             * @example A neutral joint below 42 ohm could hide from these readings.
             */
            meaning: string;
        };
        /**
         * @description How far the readings decide. The list may grow.
         * @example established
         */
        Determination: string;
        /**
         * @description What to do with the job. The list may grow.
         * @example stop_and_refer
         */
        Disposition: string;
        /**
         * @description Whether there is an equipment ground conductor.
         * @example present
         * @enum {string}
         */
        EquipmentGround: "present" | "absent" | "unknown";
        /**
         * Estimate
         * @description A quantity with its 90 % credible interval.
         */
        Estimate: {
            /**
             * @description The posterior median, in `unit`.
             * @example 116.4
             */
            value: number;
            /**
             * @description Lower end of the 90 % credible interval, in `unit`.
             * @example 113
             */
            low: number;
            /**
             * @description Upper end of the 90 % credible interval, in `unit`.
             * @example 119.8
             */
            high: number;
            /**
             * @description Unit of the numbers beside it.
             * @example V
             * @example ohm
             * @example W
             */
            unit: string;
            /**
             * @description `two_sided`, or `at_least` or `at_most` where the readings bound the quantity on one side only.
             * @example two_sided
             */
            bound: components["schemas"]["Bound"];
            /**
             * @description The one figure of a one-sided bound, in `unit`. Null: it is two-sided.
             * @example 4100
             * @example null
             */
            limit: number | null;
            /**
             * @description `readings`; `prior` where they have not narrowed what was to be expected anyway.
             * @example readings
             */
            told_by: components["schemas"]["ToldBy"];
            /**
             * @description As a person writes it.
             * @example 116 V (113 to 120 V)
             * @example at least 4.1 kΩ
             */
            display: string;
        };
        /**
         * Evidence
         * @description What one reading says, beside all the others.
         */
        Evidence: {
            /**
             * @description Index into the request's `readings`.
             * @example 1
             */
            reading: number;
            /**
             * @description The reading's own `id`. Null: the request gives it none.
             * @example first
             */
            id: string | null;
            /**
             * @description What was read.
             * @example {
             *       "value": 7,
             *       "unit": "V",
             *       "over_range": false,
             *       "display": "7 V"
             *     }
             */
            observed: components["schemas"]["Observed"];
            /**
             * @description What a sound supply would have given.
             * @example {
             *       "low": 118.2,
             *       "high": 125.9
             *     }
             */
            expected_if_sound: components["schemas"]["Expected"];
            /**
             * @description What the finding gives.
             * @example {
             *       "low": 0,
             *       "high": 11
             *     }
             */
            expected_under_finding: components["schemas"]["Expected"];
            /**
             * @description Against what a sound supply would have given: `low`, `high` or `as_expected`; of a proximity detector `as_expected` where a sound supply would have done the same in one case of twenty or more.
             * @example low
             */
            flag: components["schemas"]["Flag"];
            /**
             * @description Weight of this reading for the finding against a sound supply, given all the others [bit]. Negative: it speaks against.
             * @example 12.4
             */
            bits: number;
            /**
             * @description Which reading it was.
             * @example {
             *       "kind": "voltage",
             *       "conductors": [
             *         "L1",
             *         "N"
             *       ],
             *       "point": "receptacle",
             *       "meter": "loz",
             *       "load_state": "disconnected",
             *       "load_state_kind": "disconnected"
             *     }
             */
            identity: components["schemas"]["ReadingIdentity"] | null;
            /**
             * @description Current that a low-impedance voltmeter drew during the reading [A]. Null: no such meter.
             * @example 0.0023
             */
            test_current: number | null;
        };
        /**
         * Expected
         * @description The span in which nine of ten such readings fall. For proximity: the chance of a signal.
         */
        Expected: {
            /**
             * @description Lower end, in the unit of the reading.
             * @example 118.2
             */
            low: number;
            /**
             * @description Upper end, in the unit of the reading.
             * @example 125.9
             */
            high: number;
        };
        /**
         * FaultCatalogue
         * @description All faults that the service can name.
         */
        FaultCatalogue: {
            /**
             * @description The faults. The list may grow.
             * @example [
             *       {
             *         "name": "open_neutral",
             *         "meaning": "The neutral of the branch circuit is interrupted.",
             *         "limits": "1 kΩ or more in series.",
             *         "source": "ANSI C84.1 range A",
             *         "conductors": [
             *           "N"
             *         ],
             *         "base_rate": 0.05
             *       }
             *     ]
             */
            faults: components["schemas"]["FaultEntry"][];
            /**
             * @description The model whose base rates these are.
             * @example {
             *       "version": "1.0.0",
             *       "priors_digest": "9f86..."
             *     }
             */
            model: components["schemas"]["ModelRelease"];
        };
        /**
         * @description A state of the supply (see `/v1/faults`). The list may grow.
         * @example none_found
         */
        FaultCode: string;
        /**
         * FaultEntry
         * @description One fault that the service can name.
         */
        FaultEntry: {
            /**
             * @description As answers write it, and as `base_rates` takes it.
             * @example open_neutral
             */
            name: components["schemas"]["FaultCode"];
            /**
             * @description What it means, in words.
             * @example The neutral of the branch circuit is interrupted.
             */
            meaning: string;
            /**
             * @description Where the fault begins and ends.
             * @example 1 kΩ or more in series.
             */
            limits: string;
            /**
             * @description Where it comes from; says so where it is from memory.
             * @example ANSI C84.1 range A
             */
            source: string;
            /**
             * @description Conductors that it may sit on; empty where it sits on none.
             * @example [
             *       "N"
             *     ]
             */
            conductors: components["schemas"]["ConductorCode"][];
            /**
             * @description Share of visits with this fault, before any reading [1]: what `base_rates` stands in for.
             * @example 0.05
             */
            base_rate: number;
        };
        /**
         * @description What is wrong with a request. The list may grow.
         * @example contradiction
         */
        FaultOfRequest: string;
        /**
         * FaultPart
         * @description A further fault that is present at the same time.
         */
        FaultPart: {
            /**
             * @description Name of the fault (see `/v1/faults`). The list may grow.
             * @example open_neutral
             * @example none_found
             */
            fault: components["schemas"]["FaultCode"];
            /**
             * @description The conductor that it sits on: `L1`, `L2`, `N` or `G`. Null: on none, or on a leg that is not told.
             * @example N
             */
            conductor: components["schemas"]["ConductorCode"] | null;
        };
        /**
         * @description A resistance: a number in ohm, or a string with a unit of `/v1/units`. From 0.001 to 1e+09 ohm: from a poor joint to an open conductor's leakage.
         * @example 5 kohm
         */
        FaultResistance: number | string;
        /**
         * @description The panel that the branch circuit leaves.
         * @example service_panel
         * @enum {string}
         */
        FedFrom: "service_panel" | "sub_panel" | "sub_panel_bonded" | "unknown";
        /**
         * Finding
         * @description Where the trouble is, given these readings: what decides who acts.
         *
         *     The narrowest place of the tree that holds the probability which the determination asks for; how bad it is stands
         *     under it.
         */
        Finding: {
            /**
             * @description A place of the tree: `none`; `leg` (`service_leg`, `feeder_leg`, `branch_leg`, `cord_leg`); `neutral` (`service_neutral`, `feeder_neutral`, `branch_neutral`, `cord_neutral`); `both_legs` (`supply_lost`, `breaker`); `ground`; `supply_voltage`; `supply_system` (`other_supply_system`, `neutral_not_bonded`); `connections` (`transposed`, `joined`, `legs_from_same_pole`); `appliance` (`leak_to_ground`); `tester`; `readings`. The list may grow.
             * @example service_neutral
             */
            place: components["schemas"]["PlaceCode"];
            /**
             * @description The finding in words.
             * @example Service neutral bad
             */
            title: string;
            /**
             * @description Narrower places under it, most probable first.
             * @example [
             *       {
             *         "place": "branch_leg",
             *         "probability": 0.61
             *       }
             *     ]
             */
            parts: components["schemas"]["Part"][];
            /**
             * @description `open`, `high_resistance`; null where the readings do not tell, or it has none.
             * @example null
             */
            degree: components["schemas"]["DegreeCode"] | null;
            /**
             * @description Of that degree, given the place [1]. Null: no degree.
             * @example 0.99
             */
            degree_probability: number | null;
            /**
             * @description Name of the fault (see `/v1/faults`). The list may grow.
             * @example open_neutral
             * @example none_found
             */
            fault: components["schemas"]["FaultCode"];
            /**
             * @description The conductor that it sits on: `L1`, `L2`, `N` or `G`. Null: on none, or on a leg that is not told.
             * @example N
             */
            conductor: components["schemas"]["ConductorCode"] | null;
            /**
             * @description Where: `upstream_of_<point>`, `between_<point>_and_<point>`. Null: the readings do not tell.
             * @example upstream_of_receptacle
             */
            location: string | null;
            /**
             * @description Posterior probability of the place and conductor, all degrees together, 0 to 1 [1].
             * @example 0.997
             */
            probability: number;
            /**
             * @description Further faults of the same finding, where two are present at once.
             * @example [
             *       {
             *         "fault": "open_neutral",
             *         "conductor": "N"
             *       }
             *     ]
             */
            also: components["schemas"]["FaultPart"][];
        };
        /**
         * @description How a reading lies to what a sound supply shows. The list may grow.
         * @example low
         */
        Flag: string;
        /**
         * Hazard
         * @description What can hurt somebody while a reading is taken.
         */
        Hazard: {
            /**
             * @description Name of the hazard. The list may grow.
             * @example live_contact
             */
            code: components["schemas"]["HazardCode"];
            /**
             * @description The same in words.
             * @example Probes touch live parts.
             */
            text: string;
        };
        /**
         * @description A hazard of taking a reading. The list may grow.
         * @example live_contact
         */
        HazardCode: string;
        /**
         * Health
         * @description State of the service.
         */
        Health: {
            /**
             * @description `live` or `ready`.
             * @example ready
             */
            status: string;
        };
        /**
         * @description A capacitance: a number in F, or a string with a unit of `/v1/units`. From 0 to 1e-06 F: leads and input stage.
         * @example 100 pF
         */
        InputCapacitance: number | string;
        /**
         * @description A resistance: a number in ohm, or a string with a unit of `/v1/units`. From 100 to 1e+11 ohm: solenoid testers to electrometer-like inputs.
         * @example 10 Mohm
         * @example 3000
         */
        InputImpedance: number | string;
        /**
         * LegVoltage
         * @description One leg of the supply against the grounded point at the panel.
         */
        LegVoltage: {
            /**
             * @description The conductor: `L1`, `L2`, `N` or `G`.
             * @example N
             */
            conductor: components["schemas"]["ConductorCode"];
            /**
             * @description [V]; scaled to the leg-to-leg reading where there is one, else nominal.
             * @example 121.5
             */
            voltage: number;
            /**
             * @description Phase against leg L1 [deg].
             * @example 180
             */
            angle: number;
            /**
             * @description Unit of the numbers beside it.
             * @example V
             * @example ohm
             * @example W
             */
            unit: string;
        };
        /**
         * @description Where lights brighten and dim.
         * @example same_panel
         * @enum {string}
         */
        LightsWhere: "same_panel" | "whole_building";
        /**
         * LimitCatalogue
         * @description The sizes and rates of this installation. What is not listed is not limited, idle connections excepted.
         */
        LimitCatalogue: {
            /**
             * @description The limits. The list may grow.
             * @example [
             *       {
             *         "code": "body",
             *         "meaning": "The body of one request.",
             *         "value": 262144,
             *         "unit": "byte",
             *         "status": 413
             *       }
             *     ]
             */
            limits: components["schemas"]["LimitEntry"][];
        };
        /**
         * LimitEntry
         * @description One size or rate that a caller has to keep to.
         */
        LimitEntry: {
            /**
             * @description What is limited.
             * @example body
             */
            code: string;
            /**
             * @description What it means, in words.
             * @example The body of one request.
             */
            meaning: string;
            /**
             * @description The most that is taken, in `unit`.
             * @example 262144
             */
            value: number;
            /**
             * @description Its unit; `1` for a count.
             * @example byte
             */
            unit: string;
            /**
             * @description HTTP status of what is beyond it.
             * @example 413
             */
            status: number;
        };
        /**
         * @description A frequency: a number in Hz, or a string with a unit of `/v1/units`. From 45 to 65 Hz: 50 Hz and 60 Hz supplies.
         * @example 60
         * @example 60 Hz
         */
        LineFrequency: number | string;
        /**
         * Load
         * @description A known load between two conductors at the appliance's terminals.
         *
         *     State `power` (at the rated `voltage`), or `resistance` with or without `reactance`, and not both.
         */
        Load: {
            /**
             * @description The two conductors that the load is connected to. A leg and `G`: a leak to the frame.
             * @example [
             *       "L1",
             *       "L2"
             *     ]
             */
            between: components["schemas"]["ConductorName"][];
            /**
             * @description Rated power at the rated voltage, taken as a resistance. A number in W, or a string with a unit. From 0.1 to 100000 W.
             * @example 4.8 kW
             * @example 4800
             */
            power?: components["schemas"]["LoadPower"] | null;
            /**
             * @description Rated voltage that `power` is stated at. Left out: the system's nominal voltage between the two conductors, so state it of a 240 V element on 208 V. Only with `power`. A number in V, or a string with a unit. From 50 to 600 V.
             * @example 240 V
             */
            voltage?: components["schemas"]["LoadVoltage"] | null;
            /**
             * @description Series resistance of the load. A number in ohm, or a string with a unit. From 0.01 to 1e+07 ohm.
             * @example 12 ohm
             * @example 12
             */
            resistance?: components["schemas"]["LoadResistance"] | null;
            /**
             * @description Series reactance, inductive positive. Left out: 0. Only with `resistance`. A number in ohm, or a string with a unit. From -1e+06 to 1e+06 ohm.
             * @example 4 ohm
             */
            reactance?: components["schemas"]["LoadReactance"] | null;
            /**
             * @description Limit of error of the load's impedance, in percent, 0 to 50. Left out: 5 where `power` is stated, 1 where `resistance` is.
             * @example 5
             */
            tolerance_percent?: number | null;
        };
        /**
         * @description A power: a number in W, or a string with a unit of `/v1/units`. From 0.1 to 100000 W: one appliance on one branch circuit.
         * @example 4.8 kW
         * @example 4800
         */
        LoadPower: number | string;
        /**
         * @description A resistance: a number in ohm, or a string with a unit of `/v1/units`. From -1e+06 to 1e+06 ohm: inductive positive, capacitive negative.
         * @example 4 ohm
         */
        LoadReactance: number | string;
        /**
         * @description A resistance: a number in ohm, or a string with a unit of `/v1/units`. From 0.01 to 1e+07 ohm: one appliance on one branch circuit.
         * @example 12 ohm
         * @example 12
         */
        LoadResistance: number | string;
        /**
         * LoadState
         * @description A condition of the appliance under which readings were taken.
         */
        LoadState: {
            /**
             * @description `disconnected`: not plugged in; `idle`: connected, not started; `running`; `test_load`: a known load in the appliance's place.
             * @example running
             */
            kind: components["schemas"]["LoadStateKind"];
            /**
             * @description The loads that are on, where they are known. None where nothing is connected.
             * @example [
             *       {
             *         "between": [
             *           "L1",
             *           "L2"
             *         ],
             *         "power": "4.8 kW"
             *       }
             *     ]
             */
            loads?: components["schemas"]["Load"][] | null;
        };
        /**
         * @description The appliance's condition. The list may grow.
         * @example disconnected
         */
        LoadStateCode: string;
        /**
         * @description The appliance's condition.
         * @example disconnected
         * @enum {string}
         */
        LoadStateKind: "disconnected" | "idle" | "running" | "test_load";
        /**
         * LoadToConnect
         * @description A known load, as the request has it.
         */
        LoadToConnect: {
            /**
             * @description The two conductors.
             * @example [
             *       "L1",
             *       "N"
             *     ]
             */
            between: components["schemas"]["ConductorCode"][];
            /**
             * @description Series resistance [ohm].
             * @example 9.6
             */
            resistance: number;
            /**
             * @description Series reactance [ohm]; left out: none.
             * @example 4
             */
            reactance?: number | null;
            /**
             * @description Limit of error of its impedance [%].
             * @example 10
             */
            tolerance_percent: number;
        };
        /**
         * @description A voltage: a number in V, or a string with a unit of `/v1/units`. From 50 to 600 V: rated voltages of appliances on these supplies.
         * @example 240 V
         */
        LoadVoltage: number | string;
        /**
         * @description What a conductor is made of.
         * @example copper
         * @enum {string}
         */
        Material: "copper" | "aluminum";
        /**
         * Measure
         * @description A number with its unit.
         */
        Measure: {
            /**
             * @description The number, in `unit`.
             * @example 120
             */
            value: number;
            /**
             * @description Its unit.
             * @example V
             */
            unit: string;
        };
        /** @description A meter, told apart by its `kind`. */
        Meter: components["schemas"]["Voltmeter"] | components["schemas"]["ProximityDetector"] | components["schemas"]["ClampAmmeter"] | components["schemas"]["Ohmmeter"];
        /**
         * MeterCatalogue
         * @description All kinds of meter, with the figures that stand for what a request leaves out.
         */
        MeterCatalogue: {
            /**
             * @description The kinds. The list may grow.
             * @example [
             *       {
             *         "name": "low_impedance_voltmeter",
             *         "kind": "voltmeter",
             *         "meaning": "The neutral of the branch circuit is interrupted.",
             *         "reading": "voltage",
             *         "figures": [
             *           {
             *             "field": "input_impedance",
             *             "value": 3000,
             *             "unit": "ohm",
             *             "basis": "from memory"
             *           }
             *         ]
             *       }
             *     ]
             */
            meters: components["schemas"]["MeterEntry"][];
        };
        /**
         * @description A common kind of meter (see `/v1/meters`). The list may grow.
         * @example high_impedance_voltmeter
         */
        MeterCode: string;
        /**
         * MeterEntry
         * @description One common kind of meter.
         */
        MeterEntry: {
            /**
             * @description As `next_readings` writes it.
             * @example low_impedance_voltmeter
             */
            name: components["schemas"]["MeterCode"];
            /**
             * @description As requests write it.
             * @example voltmeter
             */
            kind: string;
            /**
             * @description What it means, in words.
             * @example The neutral of the branch circuit is interrupted.
             */
            meaning: string;
            /**
             * @description The kind of reading that it takes.
             * @example voltage
             */
            reading: components["schemas"]["ReadingKind"];
            /**
             * @description Typical figures.
             * @example [
             *       {
             *         "field": "input_impedance",
             *         "value": 3000,
             *         "unit": "ohm",
             *         "basis": "from memory"
             *       }
             *     ]
             */
            figures: components["schemas"]["TypicalFigure"][];
        };
        /**
         * @description A resistance: a number in ohm, or a string with a unit of `/v1/units`. From 0 to 1e+11 ohm: up to an insulation tester's range.
         * @example 40 Mohm
         */
        MeterRange: number | string;
        /**
         * MeterToFetch
         * @description A common meter, as the request's `meters` define it; what is left out is taken as typical.
         */
        MeterToFetch: {
            /**
             * @description `voltmeter`, `proximity_detector`, `clamp_ammeter` or `ohmmeter`.
             * @example voltmeter
             */
            kind: string;
            /**
             * @description Of a voltmeter [ohm]; left out: typical.
             * @example 3000
             */
            input_impedance?: number | null;
        };
        /**
         * ModelDescription
         * @description The model that answers.
         */
        ModelDescription: {
            /**
             * @description Which it is.
             * @example {
             *       "version": "1.0.0",
             *       "priors_digest": "9f86..."
             *     }
             */
            model: components["schemas"]["ModelRelease"];
            /**
             * @description Share of visits with each fault, before any reading [1], as `base_rates` of a request takes them.
             * @example {
             *       "none_found": 0.6,
             *       "open_neutral": 0.05
             *     }
             */
            base_rates: {
                [key: string]: number;
            };
        };
        /**
         * ModelIdentity
         * @description Which model answered which request.
         */
        ModelIdentity: {
            /**
             * @description Version of the model.
             * @example 0.1.0
             */
            version: string;
            /**
             * @description SHA-256 of the published priors, hexadecimal.
             * @example 9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08
             */
            priors_digest: string;
            /**
             * @description SHA-256 of the request in canonical JSON (RFC 8785), hexadecimal: which request this answers, however it was written. Null: no request, or one that was read elsewhere.
             * @example 26ca84ce35e85fbb463a453ac0d9109a3fb42131efa8b8c451aed5e2dcd9b535
             */
            request_digest: string | null;
        };
        /**
         * ModelRelease
         * @description Which model answered: the same request to the same model gives the same bytes.
         */
        ModelRelease: {
            /**
             * @description Version of the model.
             * @example 0.1.0
             */
            version: string;
            /**
             * @description SHA-256 of the published priors, hexadecimal.
             * @example 9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08
             */
            priors_digest: string;
        };
        /**
         * @description Whether there is a neutral.
         * @example present
         * @enum {string}
         */
        NeutralPresence: "present" | "absent";
        /**
         * NeutralToEarth
         * @description Voltage of the panel's neutral, and of all that is bonded to it, to the transformer's grounded point.
         */
        NeutralToEarth: {
            /**
             * @description The posterior median, in `unit`.
             * @example 116.4
             */
            value: number;
            /**
             * @description Lower end of the 90 % credible interval, in `unit`.
             * @example 113
             */
            low: number;
            /**
             * @description Upper end of the 90 % credible interval, in `unit`.
             * @example 119.8
             */
            high: number;
            /**
             * @description Unit of the numbers beside it.
             * @example V
             * @example ohm
             * @example W
             */
            unit: string;
            /**
             * @description `two_sided`, or `at_least` or `at_most` where the readings bound the quantity on one side only.
             * @example two_sided
             */
            bound: components["schemas"]["Bound"];
            /**
             * @description The one figure of a one-sided bound, in `unit`. Null: it is two-sided.
             * @example 4100
             * @example null
             */
            limit: number | null;
            /**
             * @description `readings`; `prior` where they have not narrowed what was to be expected anyway.
             * @example readings
             */
            told_by: components["schemas"]["ToldBy"];
            /**
             * @description As a person writes it.
             * @example 116 V (113 to 120 V)
             * @example at least 4.1 kΩ
             */
            display: string;
            /**
             * @description What it is, in words.
             * @example Neutral, panel to receptacle
             */
            title: string;
            /**
             * @description The load state's label in the request, or a kind's own name.
             * @example disconnected
             */
            load_state: string;
        };
        /**
         * NeutralToGround
         * @description Voltage of the neutral to the grounded point at the service panel, in one load state.
         */
        NeutralToGround: {
            /**
             * @description The posterior median, in `unit`.
             * @example 116.4
             */
            value: number;
            /**
             * @description Lower end of the 90 % credible interval, in `unit`.
             * @example 113
             */
            low: number;
            /**
             * @description Upper end of the 90 % credible interval, in `unit`.
             * @example 119.8
             */
            high: number;
            /**
             * @description Unit of the numbers beside it.
             * @example V
             * @example ohm
             * @example W
             */
            unit: string;
            /**
             * @description `two_sided`, or `at_least` or `at_most` where the readings bound the quantity on one side only.
             * @example two_sided
             */
            bound: components["schemas"]["Bound"];
            /**
             * @description The one figure of a one-sided bound, in `unit`. Null: it is two-sided.
             * @example 4100
             * @example null
             */
            limit: number | null;
            /**
             * @description `readings`; `prior` where they have not narrowed what was to be expected anyway.
             * @example readings
             */
            told_by: components["schemas"]["ToldBy"];
            /**
             * @description As a person writes it.
             * @example 116 V (113 to 120 V)
             * @example at least 4.1 kΩ
             */
            display: string;
            /**
             * @description What it is, in words.
             * @example Neutral, panel to receptacle
             */
            title: string;
            /**
             * @description The load state's label in the request, or a kind's own name.
             * @example disconnected
             */
            load_state: string;
            /**
             * @description The point along the run: `service_panel`, `receptacle` or `appliance_terminals`.
             * @example receptacle
             */
            point: components["schemas"]["PointCode"];
            /**
             * @description Index of the low-impedance reading during which it holds. Null: with no meter connected.
             * @example null
             */
            during_reading: number | null;
            /**
             * @description Phase against leg L1 [deg]: 0 is toward L1; on a split phase 180 is toward L2. Null: the readings do not tell to which side the neutral has moved.
             * @example 180
             */
            angle: number | null;
        };
        /**
         * NextReading
         * @description A reading, or something to look or ask for, that is worth its trouble.
         */
        NextReading: {
            /**
             * @description The same for the same reading of one visit: to remember what was asked.
             * @example voltage L1-N receptacle disconnected loz
             */
            id: string;
            /**
             * @description What to do, in one line.
             * @example Voltage L1 to neutral at the receptacle, appliance disconnected
             */
            title: string;
            /**
             * @description As the request has it, without what is read: add `value` (of a proximity reading `detected`) and send it back. Null: no reading, see `observation`.
             * @example {
             *       "kind": "voltage",
             *       "between": [
             *         "L1",
             *         "N"
             *       ],
             *       "meter": "loz",
             *       "load_state": "disconnected",
             *       "point": "receptacle"
             *     }
             */
            reading: components["schemas"]["ReadingToTake"] | null;
            /**
             * @description Something to look or ask for (see `/v1/observations`): where it is so, add it to the request's `observations`. Null: this is a reading.
             * @example null
             */
            observation: components["schemas"]["ObservationWord"] | null;
            /**
             * @description The reading's load state as `load_states` would define it, under the name that the reading gives.
             * @example {
             *       "kind": "disconnected"
             *     }
             */
            load_state: components["schemas"]["StateToMake"] | null;
            /**
             * @description A common meter that the request does not list, as `meters` would define it. Null: it lists it.
             * @example null
             */
            meter: components["schemas"]["MeterToFetch"] | null;
            /**
             * @description `high_impedance_voltmeter`, `low_impedance_voltmeter`, `proximity_detector`, `clamp_ammeter`, `ohmmeter`.
             * @example low_impedance_voltmeter
             */
            meter_kind: components["schemas"]["MeterCode"] | null;
            /**
             * @description How to take it, in order: what to switch, what to open, where to stand, where to put the meter.
             * @example [
             *       "Hold the probes on L1 and on neutral."
             *     ]
             */
            steps: string[];
            /**
             * @description What each of the leading places would show, the most probable first.
             * @example [
             *       {
             *         "place": "branch_neutral",
             *         "conductor": null,
             *         "title": "Branch neutral bad",
             *         "low": 0,
             *         "high": 4.2,
             *         "unit": "V",
             *         "display": "0 V to 4.2 V"
             *       }
             *     ]
             */
            expect: components["schemas"]["Shown"][];
            /**
             * @description What it is expected to tell about what decides the action, place and who must act [bit]. Of two readings that tell only together, half of both. 0 also where a rule asks for it (a reading to be taken again) and it was not reckoned.
             * @example 0.62
             */
            information: number;
            /**
             * @description Why it is worth taking, in words.
             * @example It tells an open neutral from a sound one.
             */
            why: string;
            /**
             * @description The same as a word: `tells_apart`, `takes_again`, `narrows_down`, `asks`. The list may grow.
             * @example tells_apart
             */
            why_code: string;
            /**
             * @description What can hurt somebody while taking it.
             * @example [
             *       {
             *         "code": "live_contact",
             *         "text": "Probes touch live parts."
             *       }
             *     ]
             */
            hazards: components["schemas"]["Hazard"][];
        };
        /**
         * @description Why there is nothing to read next. The list may grow.
         * @example enough
         */
        NextReason: string;
        /**
         * Observation
         * @description Something seen or told, with what is known of it besides its code.
         */
        Observation: {
            /**
             * @description What it was (see `/v1/observations`).
             * @example lights_brighten_and_dim
             */
            code: components["schemas"]["ObservationCode"];
            /**
             * @description Of `lights_brighten_and_dim` alone: on circuits of the same panel, or in the whole building. Left out: not known.
             * @example whole_building
             */
            where?: components["schemas"]["LightsWhere"] | null;
        };
        /**
         * ObservationCatalogue
         * @description All observations that a request can state. They shift odds and alone establish nothing.
         */
        ObservationCatalogue: {
            /**
             * @description The observations. The list may grow.
             * @example [
             *       {
             *         "code": "lights_brighten_and_dim",
             *         "title": "Lights elsewhere brighten and dim",
             *         "meaning": "The neutral of the branch circuit is interrupted.",
             *         "limits": "Not for what was switched off.",
             *         "where": [
             *           "same_panel",
             *           "whole_building"
             *         ],
             *         "likelihoods": [
             *           {
             *             "where": null,
             *             "place": "service_neutral",
             *             "probability": 0.5
             *           }
             *         ],
             *         "source": "ANSI C84.1 range A"
             *       }
             *     ]
             */
            observations: components["schemas"]["ObservationEntry"][];
        };
        /**
         * @description Something seen or told (see `/v1/observations`).
         * @example breaker_found_tripped
         * @enum {string}
         */
        ObservationCode: "breaker_found_tripped" | "lights_brighten_and_dim" | "scorched_or_discoloured" | "works_when_moved" | "other_circuits_live" | "other_circuits_dead" | "ground_fault_breaker_tripped";
        /**
         * ObservationEntry
         * @description One observation that a request can state.
         */
        ObservationEntry: {
            /**
             * @description As requests write it.
             * @example lights_brighten_and_dim
             */
            code: components["schemas"]["ObservationWord"];
            /**
             * @description In short.
             * @example Lights elsewhere brighten and dim
             */
            title: string;
            /**
             * @description What it means, in words.
             * @example The neutral of the branch circuit is interrupted.
             */
            meaning: string;
            /**
             * @description What is not meant, and what it does not tell.
             * @example Not for what was switched off.
             */
            limits: string;
            /**
             * @description What may be said of where it was seen. Empty: that is not asked.
             * @example [
             *       "same_panel",
             *       "whole_building"
             *     ]
             */
            where: string[];
            /**
             * @description How much it speaks for each place: our own judgment, no measurement.
             * @example [
             *       {
             *         "where": null,
             *         "place": "service_neutral",
             *         "probability": 0.5
             *       }
             *     ]
             */
            likelihoods: components["schemas"]["ObservationLikelihood"][];
            /**
             * @description Where it comes from; says so where it is from memory.
             * @example ANSI C84.1 range A
             */
            source: string;
        };
        /** @description An observation: its code, or an object where there is more to say. */
        ObservationItem: components["schemas"]["ObservationCode"] | components["schemas"]["Observation"];
        /**
         * ObservationLikelihood
         * @description How probable an observation is where one place is at fault.
         */
        ObservationLikelihood: {
            /**
             * @description Where it was seen, as a request states it. Null: not stated.
             * @example whole_building
             */
            where: string | null;
            /**
             * @description The place at fault. Null: any that is not listed.
             * @example service_neutral
             */
            place: components["schemas"]["PlaceCode"] | null;
            /**
             * @description A probability, 0 to 1 [1].
             * @example 0.97
             */
            probability: number;
        };
        /**
         * @description An observation (see `/v1/observations`). The list may grow.
         * @example breaker_found_tripped
         */
        ObservationWord: string;
        /**
         * Observed
         * @description What was read. For a proximity reading, 1 where the detector signalled, else 0.
         */
        Observed: {
            /**
             * @description The reading, in `unit`. Where `over_range`, no figure that was read: the end of the range, or the least that it may have been; show `display`.
             * @example 7
             */
            value: number;
            /**
             * @description Unit of the numbers beside it.
             * @example V
             * @example ohm
             * @example W
             */
            unit: string;
            /**
             * @description The meter showed OL: what was read lies above `value`, nobody knows how far.
             * @example false
             */
            over_range: boolean;
            /**
             * @description The same in words: "OL", with the end of the range where it is known; a detector's "signal" or "no signal".
             * @example 7 V
             */
            display: string;
        };
        /**
         * Ohmmeter
         * @description An ohmmeter. For an isolated circuit only.
         */
        Ohmmeter: {
            /**
             * @description Always `ohmmeter`: tells a Ohmmeter from the others by its kind. (enum property replaced by openapi-typescript)
             * @enum {string}
             */
            kind: "ohmmeter";
            /**
             * @description Limit of error as a share of the reading, in percent, 0 to 50. Left out: typical of the kind.
             * @example 0.8
             */
            accuracy_percent?: number | null;
            /**
             * @description Limit of error in counts of the resolution, 0 to 1000, added to the share of the reading. Left out: typical of the kind.
             * @example 3
             */
            accuracy_counts?: number | null;
            /**
             * @description Smallest step shown. Left out: 0.1 ohm. A number in ohm, or a string with a unit. From 1e-06 to 1e+06 ohm.
             * @example 0.1 ohm
             * @example 0.1
             */
            resolution?: components["schemas"]["ResistanceResolution"] | null;
        };
        /**
         * Part
         * @description A narrower place under the finding's.
         */
        Part: {
            /**
             * @description A place of the tree: `none`; `leg` (`service_leg`, `feeder_leg`, `branch_leg`, `cord_leg`); `neutral` (`service_neutral`, `feeder_neutral`, `branch_neutral`, `cord_neutral`); `both_legs` (`supply_lost`, `breaker`); `ground`; `supply_voltage`; `supply_system` (`other_supply_system`, `neutral_not_bonded`); `connections` (`transposed`, `joined`, `legs_from_same_pole`); `appliance` (`leak_to_ground`); `tester`; `readings`. The list may grow.
             * @example service_neutral
             */
            place: components["schemas"]["PlaceCode"];
            /**
             * @description A probability, 0 to 1 [1].
             * @example 0.97
             */
            probability: number;
        };
        /**
         * @description Who must act. The list may grow.
         * @example utility
         */
        PartyCode: string;
        /**
         * @description A place of the tree of places. The list may grow.
         * @example none
         */
        PlaceCode: string;
        /**
         * @description A number, a text or a truth value.
         * @example unknown
         */
        PlainValue: number | string | boolean;
        /**
         * @description A point along the run. The list may grow.
         * @example service_panel
         */
        PointCode: string;
        /**
         * @description A point along the run, from the source downstream.
         * @example service_panel
         * @enum {string}
         */
        PointName: "service_panel" | "sub_panel" | "panel" | "receptacle" | "appliance_terminals";
        /**
         * Problem
         * @description Why a request was not answered (RFC 9457).
         */
        Problem: {
            /**
             * @description Which problem this is: a path on this service that resolves to its page.
             * @example /problems/invalid-reading-set
             */
            type: string;
            /**
             * @description The problem in words, the same for every occurrence.
             * @example Invalid reading set
             */
            title: string;
            /**
             * @description HTTP status code.
             * @example 422
             */
            status: number;
            /**
             * @description This occurrence in words.
             * @example 2 faults in the request; see errors
             */
            detail: string;
            /**
             * @description This occurrence: a URN of the request id, which is also in the `Request-Id` header and in the log.
             * @example urn:uuid:6f3c2c1e-6f0d-4b8e-9a55-0d9d6a1a2f11
             */
            instance: string;
            /**
             * @description Every fault of the request, the first 100 of more; left out where the body is not at fault.
             * @example [
             *       {
             *         "pointer": "/readings/0/value",
             *         "code": "wrong_dimension",
             *         "detail": "unit 'A' is a current, not a voltage; give V, mV or kV",
             *         "accepted": [
             *           "V",
             *           "mV",
             *           "kV"
             *         ],
             *         "value": "5 A"
             *       }
             *     ]
             */
            errors?: components["schemas"]["RequestFault"][];
            /**
             * @description In a batch: the line that the problem is about, from 1, blank lines counted.
             * @example 17
             */
            line?: number | null;
            /**
             * @description In a batch: the line's own `reference`, where it has one that could be read.
             * @example cabin-12/range
             */
            reference?: string | null;
        };
        /**
         * Proved
         * @description When a tester was shown to work, on a source known to be live.
         */
        Proved: {
            /**
             * @description Before the readings. Left out: not known.
             * @example true
             */
            before?: boolean | null;
            /**
             * @description After them. Left out: not known.
             * @example true
             */
            after?: boolean | null;
        };
        /**
         * ProximityDetector
         * @description A detector that signals near a conductor with voltage to earth. It alone establishes nothing.
         */
        ProximityDetector: {
            /**
             * @description Always `proximity_detector`: tells a ProximityDetector from the others by its kind. (enum property replaced by openapi-typescript)
             * @enum {string}
             */
            kind: "proximity_detector";
            /**
             * @description Voltage to earth at which it signals half the time. Left out: 50 V. A number in V, or a string with a unit. From 5 to 1000 V.
             * @example 50 V
             * @example 50
             */
            threshold?: components["schemas"]["Threshold"] | null;
            /**
             * @description When it was shown to work. Both before and after: zeros from it are then hardly a dead tester's. Left out: not known, and taken as not proved.
             * @example {
             *       "before": true,
             *       "after": true
             *     }
             */
            proved?: components["schemas"]["Proved"] | null;
        };
        /**
         * ProximityReading
         * @description Whether a proximity detector signalled at a conductor.
         */
        ProximityReading: {
            /**
             * @description Always `proximity`: tells a ProximityReading from the others by its kind. (enum property replaced by openapi-typescript)
             * @enum {string}
             */
            kind: "proximity";
            /**
             * @description The conductor.
             * @example N
             */
            at: components["schemas"]["ConductorName"];
            /**
             * @description Whether it signalled.
             * @example true
             */
            detected: boolean;
            /**
             * @description The meter: a name in `meters`, of a kind that can take this reading.
             * @example dmm
             */
            meter: string;
            /**
             * @description The load state: a name in `load_states`, or a kind's own name (`disconnected`, `idle`, `running`, `test_load`). Readings under one label are taken as readings of one circuit.
             * @example disconnected
             */
            load_state: string;
            /**
             * @description Where along the run the reading was taken; left out: `receptacle`. `service_panel` is where neutral and ground are joined (a mobile home's pedestal), `sub_panel` one that a feeder feeds (a mobile home's own panel), `panel` the one that the circuit leaves, where nobody knows which of the two it is. A clamp at a panel is on the circuit's conductor as it leaves, at the receptacle on the run's wire in the box, at the terminals on the cord's. The terminals are part of the circuit only in a load state in which the appliance is connected. Exchanged wires are named by the contact that they land on.
             * @example receptacle
             */
            point?: components["schemas"]["PointName"] | null;
            /**
             * @description The caller's own name of the reading, given back wherever the answer speaks of it, once in a request. Left out: answers speak of its index.
             * @example first
             */
            id?: string | null;
            /**
             * @description The `id` of the reading that this one takes again, later: the same conductors, point and load state. Both count, and their order is known.
             * @example first
             */
            repeats?: string | null;
        };
        /**
         * @description A current: a number in A, or a string with a unit of `/v1/units`. From 0 to 1000 A: a magnitude; far above any branch circuit.
         * @example 4.2
         * @example 4.2 A
         */
        ReadCurrent: number | string;
        /**
         * @description A resistance: a number in ohm, or a string with a unit of `/v1/units`. From 0 to 1e+11 ohm: up to an insulation tester's range.
         * @example 0.3 ohm
         * @example 0.3
         * @example OL
         */
        ReadResistance: number | string;
        /**
         * @description A voltage: a number in V, or a string with a unit of `/v1/units`. From 0 to 1000 V: a magnitude; low voltage ends at 1000 V (IEC 60038).
         * @example 243 V
         * @example 119.6
         */
        ReadVoltage: number | string;
        /** @description A reading, told apart by its `kind`. */
        Reading: components["schemas"]["VoltageReading"] | components["schemas"]["ProximityReading"] | components["schemas"]["CurrentReading"] | components["schemas"]["ResistanceReading"];
        /**
         * ReadingIdentity
         * @description Which reading it was: the request's own words, repeated so that the answer can be read by itself.
         */
        ReadingIdentity: {
            /**
             * @description `voltage`, `proximity`, `current` or `resistance`.
             * @example voltage
             */
            kind: components["schemas"]["ReadingKind"];
            /**
             * @description Two for a voltage or a resistance, one for proximity and current.
             * @example [
             *       "L1",
             *       "N"
             *     ]
             */
            conductors: components["schemas"]["ConductorCode"][];
            /**
             * @description The point along the run: `service_panel`, `receptacle` or `appliance_terminals`.
             * @example receptacle
             */
            point: components["schemas"]["PointCode"];
            /**
             * @description The meter's label in the request.
             * @example loz
             */
            meter: string;
            /**
             * @description The load state's label in the request, or a kind's own name.
             * @example disconnected
             */
            load_state: string;
            /**
             * @description `disconnected`, `idle`, `running` or `test_load`.
             * @example disconnected
             */
            load_state_kind: components["schemas"]["LoadStateCode"];
        };
        /**
         * @description What kind of reading it is. The list may grow.
         * @example voltage
         */
        ReadingKind: string;
        /**
         * ReadingToTake
         * @description A reading as the request has it, without what is read: with `value` (or `detected`) added it can be sent back.
         */
        ReadingToTake: {
            /**
             * @description `voltage`, `proximity`, `current` or `resistance`.
             * @example voltage
             */
            kind: components["schemas"]["ReadingKind"];
            /**
             * @description The two conductors, for a voltage or a resistance; else left out.
             * @example [
             *       "L1",
             *       "N"
             *     ]
             */
            between?: components["schemas"]["ConductorCode"][] | null;
            /**
             * @description The conductor, for proximity; else left out.
             * @example N
             */
            at?: components["schemas"]["ConductorCode"] | null;
            /**
             * @description The conductor, for a current; else left out.
             * @example N
             */
            through?: components["schemas"]["ConductorCode"] | null;
            /**
             * @description `isolated`, for a resistance; else left out.
             * @example isolated
             */
            supply?: string | null;
            /**
             * @description The meter: a name in `meters`, or of the meter that is to be added there.
             * @example loz
             */
            meter: string;
            /**
             * @description The load state: a name in `load_states`, of one to be added there, or of a kind.
             * @example disconnected
             */
            load_state: string;
            /**
             * @description Where along the run.
             * @example receptacle
             */
            point: components["schemas"]["PointCode"];
            /**
             * @description Id of the reading that this one takes again, where it has one; else left out.
             * @example r2
             */
            repeats?: string | null;
        };
        /**
         * Reason
         * @description One reason of the confidence.
         */
        Reason: {
            /**
             * @description What it is, as a word. The list may grow.
             * @example speaks_for_it
             */
            code: string;
            /**
             * @description The same in words.
             * @example The neutral was read with a low-impedance meter.
             */
            text: string;
            /**
             * @description Indexes of the readings that it speaks of.
             * @example [
             *       1
             *     ]
             */
            readings: number[];
        };
        /**
         * ReceptacleCatalogue
         * @description All receptacles that a request can state.
         */
        ReceptacleCatalogue: {
            /**
             * @description The receptacles. The list may grow.
             * @example [
             *       {
             *         "code": "14-50R",
             *         "title": "125/250 V, 50 A, two legs, neutral and ground",
             *         "meaning": "The neutral of the branch circuit is interrupted.",
             *         "limits": "Nothing is read to a contact that is not there.",
             *         "voltage": "125/250 V",
             *         "current": {
             *           "value": 50,
             *           "unit": "A"
             *         },
             *         "conductors": [
             *           "L1",
             *           "L2",
             *           "N",
             *           "G"
             *         ],
             *         "contacts": [
             *           {
             *             "conductor": "N",
             *             "letter": "W",
             *             "name": "neutral contact, silver terminal W"
             *           }
             *         ],
             *         "source": "ANSI C84.1 range A"
             *       }
             *     ]
             */
            receptacles: components["schemas"]["ReceptacleEntry"][];
        };
        /**
         * ReceptacleEntry
         * @description One receptacle that a request can state.
         */
        ReceptacleEntry: {
            /**
             * @description As requests write it: a NEMA WD 6 designation, or `hardwired`.
             * @example 14-50R
             */
            code: string;
            /**
             * @description In short.
             * @example 125/250 V, 50 A, two legs, neutral and ground
             */
            title: string;
            /**
             * @description What it means, in words.
             * @example The neutral of the branch circuit is interrupted.
             */
            meaning: string;
            /**
             * @description What follows for the readings.
             * @example Nothing is read to a contact that is not there.
             */
            limits: string;
            /**
             * @description Rated voltage. Null: none of its own.
             * @example 125/250 V
             */
            voltage: string | null;
            /**
             * @description Rated current. Null: none of its own.
             * @example {
             *       "value": 50,
             *       "unit": "A"
             *     }
             */
            current: components["schemas"]["Measure"] | null;
            /**
             * @description Conductors that have a contact. Empty: those that the request states.
             * @example [
             *       "L1",
             *       "L2",
             *       "N",
             *       "G"
             *     ]
             */
            conductors: components["schemas"]["ConductorCode"][];
            /**
             * @description Its contacts.
             * @example [
             *       {
             *         "conductor": "N",
             *         "letter": "W",
             *         "name": "neutral contact, silver terminal W"
             *       }
             *     ]
             */
            contacts: components["schemas"]["ContactEntry"][];
            /**
             * @description Where it comes from; says so where it is from memory.
             * @example ANSI C84.1 range A
             */
            source: string;
        };
        /**
         * @description A receptacle by its NEMA WD 6 designation (see `/v1/receptacles`).
         * @example 1-15R
         * @enum {string}
         */
        ReceptacleName: "1-15R" | "2-20R" | "2-30R" | "5-15R" | "5-20R" | "5-30R" | "5-50R" | "6-15R" | "6-20R" | "6-30R" | "6-50R" | "10-20R" | "10-30R" | "10-50R" | "14-15R" | "14-20R" | "14-30R" | "14-50R" | "14-60R" | "TT-30R" | "L5-15R" | "L5-20R" | "L5-30R" | "L6-15R" | "L6-20R" | "L6-30R" | "L10-20R" | "L10-30R" | "L14-20R" | "L14-30R" | "hardwired";
        /**
         * RequestFault
         * @description One thing that is wrong with a request.
         */
        RequestFault: {
            /**
             * @description JSON pointer (RFC 6901) to the faulty value; the empty string is the whole body.
             * @example /readings/0/value
             */
            pointer: string;
            /**
             * @description What is wrong, as a word that programs can act on. The list may grow.
             * @example wrong_dimension
             * @example unknown_field
             * @example undefined_meter
             */
            code: components["schemas"]["FaultOfRequest"];
            /**
             * @description What is wrong, in words.
             * @example unit 'kV·A' is not a voltage; give V, mV or kV
             */
            detail: string;
            /**
             * @description What is accepted there: units, names, a span or a type.
             * @example [
             *       "V",
             *       "mV",
             *       "kV"
             *     ]
             */
            accepted: string[];
            /**
             * @description The faulty value, shortened where it is long; objects and lists as JSON text. Left out: none given.
             * @example 5 kV·A
             */
            value?: components["schemas"]["PlainValue"] | null;
        };
        /**
         * ResistanceReading
         * @description A resistance between two conductors, on an isolated and locked-out circuit only.
         */
        ResistanceReading: {
            /**
             * @description Always `resistance`: tells a ResistanceReading from the others by its kind. (enum property replaced by openapi-typescript)
             * @enum {string}
             */
            kind: "resistance";
            /**
             * @description Two different conductors. The order does not matter.
             * @example [
             *       "L1",
             *       "N"
             *     ]
             */
            between: components["schemas"]["ConductorName"][];
            /**
             * @description What the ohmmeter showed; `OL` is over range, with the meter's range not known. A number in ohm, or a string with a unit. From 0 to 1e+11 ohm.
             * @example 0.3 ohm
             * @example 0.3
             * @example OL
             */
            value: components["schemas"]["ReadResistance"];
            /**
             * @description The meter: a name in `meters`, of a kind that can take this reading.
             * @example dmm
             */
            meter: string;
            /**
             * @description The load state: a name in `load_states`, or a kind's own name (`disconnected`, `idle`, `running`, `test_load`). Readings under one label are taken as readings of one circuit.
             * @example disconnected
             */
            load_state: string;
            /**
             * @description States that the circuit was isolated. A resistance read on a live circuit is refused.
             * @example isolated
             * @constant
             */
            supply: "isolated";
            /**
             * @description Where along the run the reading was taken; left out: `receptacle`. `service_panel` is where neutral and ground are joined (a mobile home's pedestal), `sub_panel` one that a feeder feeds (a mobile home's own panel), `panel` the one that the circuit leaves, where nobody knows which of the two it is. A clamp at a panel is on the circuit's conductor as it leaves, at the receptacle on the run's wire in the box, at the terminals on the cord's. The terminals are part of the circuit only in a load state in which the appliance is connected. Exchanged wires are named by the contact that they land on.
             * @example receptacle
             */
            point?: components["schemas"]["PointName"] | null;
            /**
             * @description The caller's own name of the reading, given back wherever the answer speaks of it, once in a request. Left out: answers speak of its index.
             * @example first
             */
            id?: string | null;
            /**
             * @description The `id` of the reading that this one takes again, later: the same conductors, point and load state. Both count, and their order is known.
             * @example first
             */
            repeats?: string | null;
            /**
             * @description The meter showed no end; `value` is then its highest range. Left out: false.
             * @example false
             */
            over_range?: boolean | null;
        };
        /**
         * @description A resistance: a number in ohm, or a string with a unit of `/v1/units`. From 1e-06 to 1e+06 ohm: one count of the display.
         * @example 0.1 ohm
         * @example 0.1
         */
        ResistanceResolution: number | string;
        /**
         * Run
         * @description The branch circuit's cable from the panel that it leaves to the receptacle, as far as it is known.
         */
        Run: {
            /**
             * @description Conductor size, in AWG, kcmil or mm2 (see `/v1/conductors`). Left out: not known.
             * @example 6 AWG
             * @example 16 mm2
             */
            size?: string | null;
            /**
             * @description Conductor material. Left out: not known.
             * @example copper
             */
            material?: components["schemas"]["Material"] | null;
            /**
             * @description One-way length from that panel to the receptacle. Left out: not known. A number in m, or a string with a unit. From 0.1 to 1000 m.
             * @example 18 m
             * @example 18
             */
            length?: components["schemas"]["RunLength"] | null;
            /**
             * @description Temperature of the conductor. Left out: not known. A number in degC, or a string with a unit. From -50 to 150 degC.
             * @example 35 degC
             * @example 35
             */
            temperature?: components["schemas"]["RunTemperature"] | null;
        };
        /**
         * @description A length: a number in m, or a string with a unit of `/v1/units`. From 0.1 to 1000 m: one-way length of a branch circuit.
         * @example 18 m
         * @example 18
         */
        RunLength: number | string;
        /**
         * @description A temperature: a number in degC, or a string with a unit of `/v1/units`. From -50 to 150 degC: winter outdoors to above any conductor rating in use.
         * @example 35 degC
         * @example 35
         */
        RunTemperature: number | string;
        /**
         * Screen
         * @description What a screen shows first of an assessment, in 4 kB or less.
         */
        Screen: {
            /**
             * @description The request's own reference.
             * @example cabin-12/range
             */
            reference: string | null;
            /**
             * @description What was found, in one line.
             * @example Service neutral bad: over 99 %
             */
            headline: string;
            /**
             * @description What to do first, in one line.
             * @example Stop. Hand this to the utility.
             */
            next_action: string;
            /**
             * @description Who must act. Empty: nobody.
             * @example [
             *       "utility",
             *       "electrician"
             *     ]
             */
            refer_to: components["schemas"]["PartyCode"][];
            /**
             * @description What to do with the job. It drives the screen.
             * @example stop_and_refer
             */
            disposition: components["schemas"]["Disposition"];
            /**
             * @description How far the readings decide.
             * @example established
             */
            determination: components["schemas"]["Determination"];
            /**
             * @description How far the finding can be leaned on.
             * @example high
             */
            confidence: components["schemas"]["ConfidenceLevel"];
            /**
             * @description A place of the tree: `none`; `leg` (`service_leg`, `feeder_leg`, `branch_leg`, `cord_leg`); `neutral` (`service_neutral`, `feeder_neutral`, `branch_neutral`, `cord_neutral`); `both_legs` (`supply_lost`, `breaker`); `ground`; `supply_voltage`; `supply_system` (`other_supply_system`, `neutral_not_bonded`); `connections` (`transposed`, `joined`, `legs_from_same_pole`); `appliance` (`leak_to_ground`); `tester`; `readings`. The list may grow.
             * @example service_neutral
             */
            place: components["schemas"]["PlaceCode"];
            /**
             * @description The conductor that it sits on: `L1`, `L2`, `N` or `G`. Null: on none, or on a leg that is not told.
             * @example N
             */
            conductor: components["schemas"]["ConductorCode"] | null;
            /**
             * @description Name of the fault (see `/v1/faults`). The list may grow.
             * @example open_neutral
             * @example none_found
             */
            fault: components["schemas"]["FaultCode"];
            /**
             * @description A probability, 0 to 1 [1].
             * @example 0.97
             */
            probability: number;
            /**
             * @description The cautions that apply, in the order of the whole assessment.
             * @example [
             *       {
             *         "code": "neutral_as_live",
             *         "severity": "danger",
             *         "title": "Treat the neutral as live"
             *       }
             *     ]
             */
            cautions: components["schemas"]["ScreenCaution"][];
            /**
             * @description Readings that do not fit together.
             * @example [
             *       {
             *         "code": "off_the_line",
             *         "readings": [
             *           0,
             *           1,
             *           2
             *         ],
             *         "text": "The leg readings fall 7 V short."
             *       }
             *     ]
             */
            checks: components["schemas"]["ScreenCheck"][];
            /**
             * @description What to read next, most worth taking first.
             * @example [
             *       {
             *         "id": "voltage L1-N receptacle disconnected loz",
             *         "title": "Voltage L1 to neutral",
             *         "reading": null,
             *         "observation": null,
             *         "load_state": null,
             *         "meter": null,
             *         "steps": [],
             *         "hazards": [
             *           "live_contact"
             *         ]
             *       }
             *     ]
             */
            next_readings: components["schemas"]["ScreenReading"][];
            /**
             * @description Why there is nothing to read next. Null: see above.
             * @example null
             */
            next_reason: components["schemas"]["NextReason"] | null;
            /**
             * @description Entries of the lists that there was no room for [1].
             * @example 0
             */
            left_out: number;
            /**
             * @description Version of the model that answered.
             * @example 2.1.0
             */
            model: string;
        };
        /**
         * ScreenCaution
         * @description A caution that applies to this job.
         */
        ScreenCaution: {
            /**
             * @description Name of the caution (see `/v1/cautions`).
             * @example neutral_as_live
             */
            code: components["schemas"]["CautionCode"];
            /**
             * @description `danger`, `warning` or `notice`.
             * @example danger
             */
            severity: components["schemas"]["Severity"];
            /**
             * @description What to do, short. `/v1/cautions` has the rest.
             * @example Treat the neutral as live
             */
            title: string;
        };
        /**
         * ScreenCheck
         * @description Readings that no single circuit can give together.
         */
        ScreenCheck: {
            /**
             * @description What does not fit, as a word.
             * @example off_the_line
             */
            code: components["schemas"]["CheckCode"];
            /**
             * @description Indexes of the readings concerned.
             * @example [
             *       0,
             *       1,
             *       2
             *     ]
             */
            readings: number[];
            /**
             * @description The same in words.
             * @example The leg readings fall 7 V short.
             */
            text: string;
        };
        /**
         * ScreenReading
         * @description A reading, or something to look or ask for, that is worth its trouble.
         */
        ScreenReading: {
            /**
             * @description The same as in the whole assessment.
             * @example voltage L1-N receptacle disconnected loz
             */
            id: string;
            /**
             * @description What to do, in one line.
             * @example Voltage L1 to neutral at the receptacle, appliance disconnected
             */
            title: string;
            /**
             * @description As the request has it, without what is read. Null: no reading, see `observation`.
             * @example {
             *       "kind": "voltage",
             *       "between": [
             *         "L1",
             *         "N"
             *       ],
             *       "meter": "loz",
             *       "load_state": "idle",
             *       "point": "receptacle"
             *     }
             */
            reading: components["schemas"]["ReadingToTake"] | null;
            /**
             * @description Something to look or ask for. Null: this is a reading.
             * @example null
             */
            observation: components["schemas"]["ObservationWord"] | null;
            /**
             * @description As `load_states` would define it.
             * @example {
             *       "kind": "disconnected"
             *     }
             */
            load_state: components["schemas"]["StateToMake"] | null;
            /**
             * @description As `meters` would define it. Null: the request lists it.
             * @example null
             */
            meter: components["schemas"]["MeterToFetch"] | null;
            /**
             * @description How to take it, in order.
             * @example [
             *       "Hold the probes on L1 and on neutral."
             *     ]
             */
            steps: string[];
            /**
             * @description What can hurt somebody while taking it.
             * @example [
             *       "live_contact"
             *     ]
             */
            hazards: components["schemas"]["HazardCode"][];
        };
        /**
         * @description A section of the way from the source. The list may grow.
         * @example service
         */
        SectionCode: string;
        /**
         * @description How grave a caution is. The list may grow.
         * @example danger
         */
        Severity: string;
        /**
         * Shown
         * @description What the meter would show if one place were at fault.
         */
        Shown: {
            /**
             * @description The place (see `finding.place`).
             * @example branch_neutral
             */
            place: components["schemas"]["PlaceCode"];
            /**
             * @description The leg, where the place is on one; else null.
             * @example null
             */
            conductor: components["schemas"]["ConductorCode"] | null;
            /**
             * @description The place in words.
             * @example Branch neutral bad
             */
            title: string;
            /**
             * @description Four of five such readings lie above or at this, in `unit`.
             * @example 0
             */
            low: number;
            /**
             * @description Four of five lie below or at this, in `unit`.
             * @example 4.2
             */
            high: number;
            /**
             * @description `V`, `A`, `ohm`; `1` for the share of times that a detector signals.
             * @example V
             */
            unit: string;
            /**
             * @description The same as a person writes it.
             * @example 0 V to 4.2 V
             */
            display: string;
        };
        /**
         * Simulation
         * @description The readings that a person would see.
         */
        Simulation: {
            /**
             * @description The readings asked for, in their order, in the form that an assessment takes.
             * @example [
             *       {
             *         "kind": "voltage",
             *         "between": [
             *           "L1",
             *           "L2"
             *         ],
             *         "value": "247 V",
             *         "meter": "loz",
             *         "load_state": "disconnected",
             *         "point": "receptacle"
             *       },
             *       {
             *         "kind": "voltage",
             *         "between": [
             *           "L1",
             *           "N"
             *         ],
             *         "value": "7 V",
             *         "meter": "loz",
             *         "load_state": "disconnected",
             *         "point": "receptacle"
             *       }
             *     ]
             */
            readings: components["schemas"]["Reading"][];
            /**
             * @description Every value that the request left out and the service filled in.
             * @example [
             *       {
             *         "pointer": "/meters/dmm/input_impedance",
             *         "value": 10000000,
             *         "unit": "ohm",
             *         "basis": "typical of a high-impedance voltmeter"
             *       }
             *     ]
             */
            assumptions: components["schemas"]["Assumption"][];
            /**
             * @description Which model answered.
             * @example {
             *       "version": "1.0.0",
             *       "priors_digest": "9f86..."
             *     }
             */
            model: components["schemas"]["ModelRelease"];
        };
        /**
         * SimulationRequest
         * @description A stated fault on a stated circuit, and the readings to take of it.
         */
        SimulationRequest: {
            /**
             * @description The fault (see `/v1/faults`); `none_found` is a sound supply.
             * @example open_neutral
             */
            fault: string;
            /**
             * @description The conductor that it sits on. Left out: the first that it can sit on.
             * @example N
             */
            conductor?: components["schemas"]["ConductorName"] | null;
            /**
             * @description Where, as findings write it. Left out: the first place that the readings can tell.
             * @example upstream_of_receptacle
             */
            location?: string | null;
            /**
             * @description Series resistance of the fault. Left out: the middle of what its name covers. A number in ohm, or a string with a unit. From 0.001 to 1e+09 ohm.
             * @example 5 kohm
             */
            resistance?: components["schemas"]["FaultResistance"] | null;
            /**
             * @description Leg to grounded point at the source. Left out: the usual one. A number in V, or a string with a unit. From 10 to 1000 V.
             * @example 121 V
             */
            supply_voltage?: components["schemas"]["SourceVoltage"] | null;
            /**
             * @description What is known of the supply. Left out: a 120/240 V split-phase supply at 60 Hz.
             * @example {
             *       "system": "split_phase_120_240",
             *       "frequency": 60
             *     }
             */
            supply?: components["schemas"]["Supply"] | null;
            /**
             * @description The appliance. Left out: any.
             * @example {
             *       "kind": "range"
             *     }
             */
            appliance?: components["schemas"]["Appliance"] | null;
            /**
             * @description The meters, by the caller's own names, as in an assessment.
             * @example {
             *       "dmm": {
             *         "kind": "voltmeter",
             *         "input_impedance": "10 Mohm",
             *         "accuracy_percent": 0.8,
             *         "accuracy_counts": 3,
             *         "resolution": "0.1 V"
             *       },
             *       "loz": {
             *         "kind": "voltmeter",
             *         "input_impedance": "3 kohm",
             *         "accuracy_percent": 1.5,
             *         "accuracy_counts": 3,
             *         "resolution": "1 V"
             *       }
             *     }
             */
            meters?: {
                [key: string]: components["schemas"]["Meter"];
            } | null;
            /**
             * @description The appliance's conditions, by the caller's own names, as in an assessment.
             * @example {
             *       "heating": {
             *         "kind": "running",
             *         "loads": [
             *           {
             *             "between": [
             *               "L1",
             *               "L2"
             *             ],
             *             "power": "4.8 kW"
             *           }
             *         ]
             *       }
             *     }
             */
            load_states?: {
                [key: string]: components["schemas"]["LoadState"];
            } | null;
            /**
             * @description The readings to take, at most 200: as in an assessment, without what was read.
             * @example [
             *       {
             *         "kind": "voltage",
             *         "between": [
             *           "L1",
             *           "N"
             *         ],
             *         "meter": "loz",
             *         "load_state": "disconnected"
             *       }
             *     ]
             */
            readings: components["schemas"]["AskedReading"][];
            /**
             * @description With a seed, 0 to 9007199254740991: what is unknown of the circuit, the meters' errors and the reader's scatter are drawn, the same for the same seed. Left out: everything at its median, read without error.
             * @example 7
             */
            seed?: number | null;
        };
        /**
         * @description What feeds the building.
         * @example utility
         * @enum {string}
         */
        SourceKind: "utility" | "generator" | "unknown";
        /**
         * @description A voltage: a number in V, or a string with a unit of `/v1/units`. From 10 to 1000 V: a failing supply to the end of low voltage.
         * @example 121 V
         */
        SourceVoltage: number | string;
        /**
         * StateToMake
         * @description A load state, as the request's `load_states` define it.
         */
        StateToMake: {
            /**
             * @description `disconnected`, `idle`, `running` or `test_load`.
             * @example test_load
             */
            kind: components["schemas"]["LoadStateCode"];
            /**
             * @description Known loads; left out: none is known.
             * @example [
             *       {
             *         "between": [
             *           "L1",
             *           "N"
             *         ],
             *         "resistance": 9.6,
             *         "tolerance_percent": 10
             *       }
             *     ]
             */
            loads?: components["schemas"]["LoadToConnect"][] | null;
        };
        /**
         * Supply
         * @description What is known of the supply before any reading.
         */
        Supply: {
            /**
             * @description Supply system at the outlet (see `/v1/supply-systems`). Left out: `single_phase_120` where the receptacle has one leg, else `split_phase_120_240`.
             * @example split_phase_120_240
             */
            system?: components["schemas"]["SupplySystem"] | null;
            /**
             * @description Line frequency. Left out: 60 Hz. A number in Hz, or a string with a unit. From 45 to 65 Hz.
             * @example 60
             * @example 60 Hz
             */
            frequency?: components["schemas"]["LineFrequency"] | null;
            /**
             * @description Whether the outlet has an equipment ground conductor. Left out: as the receptacle has it, else `unknown`. Where it is `absent`, readings to `G` at the receptacle are refused; read to `metalwork`.
             * @example present
             */
            equipment_ground?: components["schemas"]["EquipmentGround"] | null;
            /**
             * @description Whether the appliance's frame is bonded to its neutral. Left out: not known.
             * @example false
             */
            frame_bonded_to_neutral?: boolean | null;
            /**
             * @description Whether the outlet, or the wiring of an appliance without one, has a neutral. Left out: as the receptacle has it; else `absent` of a water heater, an air conditioner, a heat pump or a pump of which no reading or load is to `N`, and `present` of any other. Where it is `absent`, readings to `N` are taken at a panel only.
             * @example present
             */
            neutral?: components["schemas"]["NeutralPresence"] | null;
            /**
             * @description The panel that the branch circuit leaves: the service panel; a sub-panel, where neutral and ground are apart (apartment, outbuilding, mobile home behind its pedestal); or `sub_panel_bonded`, where they are joined again (an older detached building). Left out: `unknown`.
             * @example sub_panel
             */
            fed_from?: components["schemas"]["FedFrom"] | null;
            /**
             * @description What feeds the building. Left out: `utility`.
             * @example utility
             */
            source?: components["schemas"]["SourceKind"] | null;
            /**
             * @description NEMA WD 6 designation of the receptacle (see `/v1/receptacles`), or `hardwired`. It decides which conductors there are to read; what contradicts it is refused. Left out: not known.
             * @example 14-50R
             */
            receptacle?: components["schemas"]["ReceptacleName"] | null;
            /**
             * @description The branch circuit's cable.
             * @example {
             *       "size": "6 AWG",
             *       "material": "copper",
             *       "length": "18 m"
             *     }
             */
            run?: components["schemas"]["Run"] | null;
        };
        /**
         * @description A supply system (see `/v1/supply-systems`).
         * @example split_phase_120_240
         * @enum {string}
         */
        SupplySystem: "split_phase_120_240" | "wye_120_208" | "single_phase_120" | "high_leg_delta_120_240";
        /**
         * SupplySystemCatalogue
         * @description All supply systems that a request can state.
         */
        SupplySystemCatalogue: {
            /**
             * @description The systems. The list may grow.
             * @example [
             *       {
             *         "name": "split_phase_120_240",
             *         "meaning": "The neutral of the branch circuit is interrupted.",
             *         "conductors": [
             *           "L1",
             *           "L2",
             *           "N",
             *           "G"
             *         ],
             *         "legs": [
             *           {
             *             "conductor": "L1",
             *             "voltage": {
             *               "value": 120,
             *               "unit": "V"
             *             },
             *             "angle": {
             *               "value": 0,
             *               "unit": "deg"
             *             }
             *           }
             *         ],
             *         "between_legs": {
             *           "value": 240,
             *           "unit": "V"
             *         },
             *         "source": "ANSI C84.1 range A"
             *       }
             *     ]
             */
            supply_systems: components["schemas"]["SupplySystemEntry"][];
        };
        /**
         * @description A supply system (see `/v1/supply-systems`). The list may grow.
         * @example split_phase_120_240
         */
        SupplySystemCode: string;
        /**
         * SupplySystemEntry
         * @description One supply system.
         */
        SupplySystemEntry: {
            /**
             * @description As requests write it.
             * @example split_phase_120_240
             */
            name: components["schemas"]["SupplySystemCode"];
            /**
             * @description What it means, in words.
             * @example The neutral of the branch circuit is interrupted.
             */
            meaning: string;
            /**
             * @description The conductors at the outlet.
             * @example [
             *       "L1",
             *       "L2",
             *       "N",
             *       "G"
             *     ]
             */
            conductors: components["schemas"]["ConductorCode"][];
            /**
             * @description Its legs.
             * @example [
             *       {
             *         "conductor": "L1",
             *         "voltage": {
             *           "value": 120,
             *           "unit": "V"
             *         },
             *         "angle": {
             *           "value": 0,
             *           "unit": "deg"
             *         }
             *       }
             *     ]
             */
            legs: components["schemas"]["SystemLeg"][];
            /**
             * @description Nominal, leg to leg. Null: there is one leg.
             * @example {
             *       "value": 240,
             *       "unit": "V"
             *     }
             */
            between_legs: components["schemas"]["Measure"] | null;
            /**
             * @description Where it comes from; says so where it is from memory.
             * @example ANSI C84.1 range A
             */
            source: string;
        };
        /**
         * SystemLeg
         * @description One leg of a supply system.
         */
        SystemLeg: {
            /**
             * @description `L1` or `L2`.
             * @example L2
             */
            conductor: components["schemas"]["ConductorCode"];
            /**
             * @description Nominal, to neutral.
             * @example {
             *       "value": 120,
             *       "unit": "V"
             *     }
             */
            voltage: components["schemas"]["Measure"];
            /**
             * @description Phase against L1.
             * @example {
             *       "value": 180,
             *       "unit": "deg"
             *     }
             */
            angle: components["schemas"]["Measure"];
        };
        /**
         * @description A conductor, or metalwork of which nobody knows whether it is grounded.
         * @example L1
         * @enum {string}
         */
        TerminalName: "L1" | "L2" | "N" | "G" | "metalwork";
        /**
         * @description A voltage: a number in V, or a string with a unit of `/v1/units`. From 5 to 1000 V: sold detectors lie well within.
         * @example 50 V
         * @example 50
         */
        Threshold: number | string;
        /**
         * @description What an estimate rests on. The list may grow.
         * @example readings
         */
        ToldBy: string;
        /**
         * TypicalFigure
         * @description What stands for a figure of a meter that a request leaves out.
         */
        TypicalFigure: {
            /**
             * @description The field of the request.
             * @example input_impedance
             */
            field: string;
            /**
             * @description The typical value, in `unit`.
             * @example 10000000
             */
            value: number;
            /**
             * @description Its unit.
             * @example ohm
             */
            unit: string;
            /**
             * @description Where it comes from.
             * @example from memory
             */
            basis: string;
        };
        /**
         * UnitCatalogue
         * @description The closed list of units, and the bounds of every physical input.
         */
        UnitCatalogue: {
            /**
             * @description By dimension.
             * @example [
             *       {
             *         "dimension": "voltage",
             *         "unit": "V",
             *         "accepted": [
             *           "V",
             *           "mV"
             *         ],
             *         "pattern": "^[0-9]{1,12} ?(?:V|mV)$"
             *       }
             *     ]
             */
            units: components["schemas"]["UnitEntry"][];
            /**
             * @description By input.
             * @example [
             *       {
             *         "quantity": "read_voltage",
             *         "dimension": "voltage",
             *         "low": 0,
             *         "high": 1000,
             *         "unit": "V",
             *         "why": "a magnitude; low voltage ends at 1000 V (IEC 60038)"
             *       }
             *     ]
             */
            bounds: components["schemas"]["BoundEntry"][];
            /**
             * @description Magnitudes below it are refused, zero excepted (capacitances excepted), in the unit.
             * @example 1e-9
             */
            smallest: number;
        };
        /**
         * UnitEntry
         * @description The units that are accepted for one dimension.
         */
        UnitEntry: {
            /**
             * @description The physical dimension.
             * @example voltage
             */
            dimension: string;
            /**
             * @description The unit of a bare number.
             * @example V
             */
            unit: string;
            /**
             * @description Every spelling that is accepted, letter case included.
             * @example [
             *       "V",
             *       "mV"
             *     ]
             */
            accepted: string[];
            /**
             * @description Regular expression (ECMA-262) of every string that is accepted.
             * @example ^[0-9]{1,12} ?(?:V|mV)$
             */
            pattern: string;
        };
        /**
         * VisitDetails
         * @description What the head of the note says of the visit: given back in the answer, weighed by nothing, and kept nowhere.
         */
        VisitDetails: {
            /**
             * @description Where it is. Left out: a line to write on. At most 120 characters, no control characters.
             * @example INVENTED campground
             */
            site?: string | null;
            /**
             * @description The appliance, as the caller names it: maker's plate, number. At most 120 characters, no control characters.
             * @example INVENTED range 30 in
             */
            appliance?: string | null;
            /**
             * @description Who took the readings. At most 120 characters, no control characters.
             * @example INVENTED technician 7
             */
            taken_by?: string | null;
            /**
             * @description When: a day, or a day and time (RFC 3339).
             * @example 2026-11-29T14:30-05:00
             */
            taken_at?: string | null;
            /**
             * @description Of the meters: days or certificates. At most 120 characters, no control characters.
             * @example INVENTED: dmm until 2027-03
             */
            calibration?: string | null;
        };
        /**
         * VisitMeter
         * @description A meter of the request.
         */
        VisitMeter: {
            /**
             * @description The caller's own name of it.
             * @example loz
             */
            name: string;
            /**
             * @description Whether the request states that it was shown to work, both before and after the readings.
             * @example true
             */
            proved: boolean;
        };
        /**
         * VoltageReading
         * @description A voltage between two conductors at one point.
         */
        VoltageReading: {
            /**
             * @description Always `voltage`: tells a VoltageReading from the others by its kind. (enum property replaced by openapi-typescript)
             * @enum {string}
             */
            kind: "voltage";
            /**
             * @description Two different conductors, or a conductor and `metalwork`: a box, a pipe or a frame, of which nobody knows whether it is grounded. `metalwork` only where `equipment_ground` is `absent`, and not at a panel. The order does not matter.
             * @example [
             *       "L1",
             *       "N"
             *     ]
             */
            between: components["schemas"]["TerminalName"][];
            /**
             * @description What the voltmeter showed. A number in V, or a string with a unit. From 0 to 1000 V.
             * @example 243 V
             * @example 119.6
             */
            value: components["schemas"]["ReadVoltage"];
            /**
             * @description The meter: a name in `meters`, of a kind that can take this reading.
             * @example dmm
             */
            meter: string;
            /**
             * @description The load state: a name in `load_states`, or a kind's own name (`disconnected`, `idle`, `running`, `test_load`). Readings under one label are taken as readings of one circuit.
             * @example disconnected
             */
            load_state: string;
            /**
             * @description Where along the run the reading was taken; left out: `receptacle`. `service_panel` is where neutral and ground are joined (a mobile home's pedestal), `sub_panel` one that a feeder feeds (a mobile home's own panel), `panel` the one that the circuit leaves, where nobody knows which of the two it is. A clamp at a panel is on the circuit's conductor as it leaves, at the receptacle on the run's wire in the box, at the terminals on the cord's. The terminals are part of the circuit only in a load state in which the appliance is connected. Exchanged wires are named by the contact that they land on.
             * @example receptacle
             */
            point?: components["schemas"]["PointName"] | null;
            /**
             * @description The caller's own name of the reading, given back wherever the answer speaks of it, once in a request. Left out: answers speak of its index.
             * @example first
             */
            id?: string | null;
            /**
             * @description The `id` of the reading that this one takes again, later: the same conductors, point and load state. Both count, and their order is known.
             * @example first
             */
            repeats?: string | null;
        };
        /**
         * @description A voltage: a number in V, or a string with a unit of `/v1/units`. From 1e-06 to 50 V: one count of the display.
         * @example 0.1 V
         * @example 0.1
         */
        VoltageResolution: number | string;
        /**
         * Voltmeter
         * @description A voltmeter. Its input impedance decides what it can prove.
         */
        Voltmeter: {
            /**
             * @description Always `voltmeter`: tells a Voltmeter from the others by its kind. (enum property replaced by openapi-typescript)
             * @enum {string}
             */
            kind: "voltmeter";
            /**
             * @description Resistance of the input in the mode used. Left out: 10 Mohm, the typical digital voltmeter. A number in ohm, or a string with a unit. From 100 to 1e+11 ohm.
             * @example 10 Mohm
             * @example 3000
             */
            input_impedance?: components["schemas"]["InputImpedance"] | null;
            /**
             * @description Capacitance in parallel with it. Left out: 100 pF. A number in F, or a string with a unit. From 0 to 1e-06 F.
             * @example 100 pF
             */
            input_capacitance?: components["schemas"]["InputCapacitance"] | null;
            /**
             * @description Limit of error as a share of the reading, in percent, 0 to 50. Left out: typical of the kind.
             * @example 0.8
             */
            accuracy_percent?: number | null;
            /**
             * @description Limit of error in counts of the resolution, 0 to 1000, added to the share of the reading. Left out: typical of the kind.
             * @example 3
             */
            accuracy_counts?: number | null;
            /**
             * @description Smallest step shown. Left out: typical of the kind. A number in V, or a string with a unit. From 1e-06 to 50 V.
             * @example 0.1 V
             * @example 0.1
             */
            resolution?: components["schemas"]["VoltageResolution"] | null;
            /**
             * @description When it was shown to work. Both before and after: zeros from it are then hardly a dead tester's. Left out: not known, and taken as not proved.
             * @example {
             *       "before": true,
             *       "after": true
             *     }
             */
            proved?: components["schemas"]["Proved"] | null;
        };
    };
    responses: {
        /** @description The caller has this version. */
        NotModified: {
            headers: {
                "Request-Id": components["headers"]["Request-Id"];
                "Model-Version": components["headers"]["Model-Version"];
                traceparent: components["headers"]["traceparent"];
                ETag: components["headers"]["ETag"];
                "Cache-Control": components["headers"]["Cache-Control"];
                Vary: components["headers"]["Vary"];
                [name: string]: unknown;
            };
            content?: never;
        };
        /** @description The body is no JSON document in UTF-8, or has a name twice in one object, or is not the gzip that it is said to be, or a query parameter is not known. Send one JSON document in UTF-8, each name once in its object, and no query parameters. Problem type `/problems/malformed-request`. */
        MalformedRequest: {
            headers: {
                "Request-Id": components["headers"]["Request-Id"];
                "Model-Version": components["headers"]["Model-Version"];
                traceparent: components["headers"]["traceparent"];
                [name: string]: unknown;
            };
            content: {
                "application/problem+json": components["schemas"]["Problem"];
            };
        };
        /** @description This installation asks for a key, and none that it knows was sent. Send the key as `Authorization: Bearer <key>` or as `Api-Key: <key>`. Problem type `/problems/unauthorized`. */
        Unauthorized: {
            headers: {
                "Request-Id": components["headers"]["Request-Id"];
                "Model-Version": components["headers"]["Model-Version"];
                traceparent: components["headers"]["traceparent"];
                "WWW-Authenticate": components["headers"]["WWW-Authenticate"];
                [name: string]: unknown;
            };
            content: {
                "application/problem+json": components["schemas"]["Problem"];
            };
        };
        /** @description There is nothing at this path. See the routes in /docs or /openapi.json. Problem type `/problems/not-found`. */
        NotFound: {
            headers: {
                "Request-Id": components["headers"]["Request-Id"];
                "Model-Version": components["headers"]["Model-Version"];
                traceparent: components["headers"]["traceparent"];
                [name: string]: unknown;
            };
            content: {
                "application/problem+json": components["schemas"]["Problem"];
            };
        };
        /** @description The path exists, but not for this method. Use a method from the answer's Allow header. Problem type `/problems/method-not-allowed`. */
        MethodNotAllowed: {
            headers: {
                "Request-Id": components["headers"]["Request-Id"];
                "Model-Version": components["headers"]["Model-Version"];
                traceparent: components["headers"]["traceparent"];
                Allow: components["headers"]["Allow"];
                [name: string]: unknown;
            };
            content: {
                "application/problem+json": components["schemas"]["Problem"];
            };
        };
        /** @description None of the media types in the request's Accept header can be given. Ask for one of the media types that `detail` lists. Problem type `/problems/not-acceptable`. */
        NotAcceptable: {
            headers: {
                "Request-Id": components["headers"]["Request-Id"];
                "Model-Version": components["headers"]["Model-Version"];
                traceparent: components["headers"]["traceparent"];
                [name: string]: unknown;
            };
            content: {
                "application/problem+json": components["schemas"]["Problem"];
            };
        };
        /** @description The request did not arrive in the time that the service waits for it. Send it again; look at the network between where it keeps happening. Problem type `/problems/request-timeout`. */
        RequestTimeout: {
            headers: {
                "Request-Id": components["headers"]["Request-Id"];
                "Model-Version": components["headers"]["Model-Version"];
                traceparent: components["headers"]["traceparent"];
                [name: string]: unknown;
            };
            content: {
                "application/problem+json": components["schemas"]["Problem"];
            };
        };
        /** @description The body, packed or unpacked, or one line of a batch, is larger than the service takes. Send less at once: one visit's readings, or the batch route for many visits. Problem type `/problems/content-too-large`. */
        ContentTooLarge: {
            headers: {
                "Request-Id": components["headers"]["Request-Id"];
                "Model-Version": components["headers"]["Model-Version"];
                traceparent: components["headers"]["traceparent"];
                [name: string]: unknown;
            };
            content: {
                "application/problem+json": components["schemas"]["Problem"];
            };
        };
        /** @description The Content-Type is not one that the route takes, or the body has a Content-Encoding besides gzip. Send a media type of the answer's Accept-Post header, plain or as gzip. Problem type `/problems/unsupported-media-type`. */
        UnsupportedMediaType: {
            headers: {
                "Request-Id": components["headers"]["Request-Id"];
                "Model-Version": components["headers"]["Model-Version"];
                traceparent: components["headers"]["traceparent"];
                "Accept-Post": components["headers"]["Accept-Post"];
                [name: string]: unknown;
            };
            content: {
                "application/problem+json": components["schemas"]["Problem"];
            };
        };
        /** @description The body is a JSON document, but not a valid request. Nothing was computed. Mend every entry of `errors`: each has a JSON pointer, what is wrong, and what is accepted there. Problem type `/problems/invalid-reading-set`. */
        InvalidReadingSet: {
            headers: {
                "Request-Id": components["headers"]["Request-Id"];
                "Model-Version": components["headers"]["Model-Version"];
                traceparent: components["headers"]["traceparent"];
                [name: string]: unknown;
            };
            content: {
                "application/problem+json": components["schemas"]["Problem"];
            };
        };
        /** @description This caller has sent more requests than it may. Wait as long as the Retry-After header says. Every request here is safe to send again. Problem type `/problems/too-many-requests`. */
        TooManyRequests: {
            headers: {
                "Request-Id": components["headers"]["Request-Id"];
                "Model-Version": components["headers"]["Model-Version"];
                traceparent: components["headers"]["traceparent"];
                "Retry-After": components["headers"]["Retry-After"];
                RateLimit: components["headers"]["RateLimit"];
                "RateLimit-Policy": components["headers"]["RateLimit-Policy"];
                [name: string]: unknown;
            };
            content: {
                "application/problem+json": components["schemas"]["Problem"];
            };
        };
        /** @description The request's line and headers are larger or more than the service takes. Send fewer and shorter headers; everything about a visit belongs in the body. Problem type `/problems/request-header-fields-too-large`. */
        RequestHeaderFieldsTooLarge: {
            headers: {
                "Request-Id": components["headers"]["Request-Id"];
                "Model-Version": components["headers"]["Model-Version"];
                traceparent: components["headers"]["traceparent"];
                [name: string]: unknown;
            };
            content: {
                "application/problem+json": components["schemas"]["Problem"];
            };
        };
        /** @description The service failed. The request is not at fault, and nothing may be concluded about the supply. Report the request id in `instance` to whoever runs the service. Problem type `/problems/internal-error`. The answer was not ready in the time that a request may take here, and what was being computed for it was ended. Nothing may be concluded about the supply. Do not send it again as it is: it would take as long. Send fewer readings or load states at once. Problem type `/problems/time-limit-exceeded`. */
        InternalError: {
            headers: {
                "Request-Id": components["headers"]["Request-Id"];
                "Model-Version": components["headers"]["Model-Version"];
                traceparent: components["headers"]["traceparent"];
                [name: string]: unknown;
            };
            content: {
                "application/problem+json": components["schemas"]["Problem"];
            };
        };
        /** @description The service has as much work as it takes on. Wait as long as the Retry-After header says. Every request here is safe to send again. Problem type `/problems/overloaded`. The service is starting, or about to stop. Nothing was computed. Wait as long as the Retry-After header says, or ask another copy of the service. Problem type `/problems/not-ready`. */
        Overloaded: {
            headers: {
                "Request-Id": components["headers"]["Request-Id"];
                "Model-Version": components["headers"]["Model-Version"];
                traceparent: components["headers"]["traceparent"];
                "Retry-After": components["headers"]["Retry-After"];
                [name: string]: unknown;
            };
            content: {
                "application/problem+json": components["schemas"]["Problem"];
            };
        };
    };
    parameters: {
        /**
         * @description Languages that the caller reads (RFC 9110, 12.5.4). English where none of them is there.
         * @example en-US, en;q=0.8
         */
        AcceptLanguage: string;
        /**
         * @description ETag of the version that the caller has: 304 where it is still the one.
         * @example W/"0123456789abcdef0123456789abcdef"
         */
        IfNoneMatch: string;
        /**
         * @description Trace of the caller (W3C Trace Context), passed on. One that is not valid is not used.
         * @example 00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01
         */
        Traceparent: string;
        /**
         * @description Last part of a problem's `type`.
         * @example invalid-reading-set
         */
        ProblemName: string;
    };
    requestBodies: never;
    headers: {
        /**
         * @description Id of this request, also in the log.
         * @example 6f3c2c1e-6f0d-4b8e-9a55-0d9d6a1a2f11
         */
        "Request-Id": string;
        /**
         * @description Version of the model that this service answers with.
         * @example 1.1.1
         */
        "Model-Version": string;
        /**
         * @description Trace of the request (W3C Trace Context).
         * @example 00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01
         */
        traceparent: string;
        /**
         * @description How long the answer may be kept.
         * @example no-store
         */
        "Cache-Control": string;
        /**
         * @description Request headers that the answer depends on.
         * @example Accept, Accept-Encoding
         */
        Vary: string;
        /**
         * @description Version of the answer, weak.
         * @example W/"0123456789abcdef0123456789abcdef"
         */
        ETag: string;
        /**
         * @description Language of the texts.
         * @example en
         */
        "Content-Language": string;
        /**
         * @description When to try again [s].
         * @example 1
         */
        "Retry-After": string;
        /**
         * @description Methods that the path takes.
         * @example GET, HEAD, OPTIONS
         */
        Allow: string;
        /**
         * @description Media type that the route takes.
         * @example application/json
         */
        "Accept-Post": string;
        /**
         * @description What is left of what this caller may send, where that is bounded.
         * @example "default";r=19;t=1
         */
        RateLimit: string;
        /**
         * @description What this caller may send, where that is bounded.
         * @example "default";q=20;w=1
         */
        "RateLimit-Policy": string;
        /**
         * @description How to send a key.
         * @example Bearer realm="feedproof"
         */
        "WWW-Authenticate": string;
    };
    pathItems: never;
}
export type $defs = Record<string, never>;
export interface operations {
    assess: {
        parameters: {
            query?: never;
            header?: {
                /**
                 * @description Trace of the caller (W3C Trace Context), passed on. One that is not valid is not used.
                 * @example 00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01
                 */
                traceparent?: components["parameters"]["Traceparent"];
                /**
                 * @description Languages that the caller reads (RFC 9110, 12.5.4). English where none of them is there.
                 * @example en-US, en;q=0.8
                 */
                "Accept-Language"?: components["parameters"]["AcceptLanguage"];
            };
            path?: never;
            cookie?: never;
        };
        /** @description One visit's readings. */
        requestBody: {
            content: {
                "application/json": components["schemas"]["AssessmentRequest"];
            };
        };
        responses: {
            /** @description The assessment. */
            200: {
                headers: {
                    "Request-Id": components["headers"]["Request-Id"];
                    "Model-Version": components["headers"]["Model-Version"];
                    traceparent: components["headers"]["traceparent"];
                    "Cache-Control": components["headers"]["Cache-Control"];
                    Vary: components["headers"]["Vary"];
                    "Content-Language": components["headers"]["Content-Language"];
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Assessment"];
                };
            };
            400: components["responses"]["MalformedRequest"];
            401: components["responses"]["Unauthorized"];
            405: components["responses"]["MethodNotAllowed"];
            406: components["responses"]["NotAcceptable"];
            408: components["responses"]["RequestTimeout"];
            413: components["responses"]["ContentTooLarge"];
            415: components["responses"]["UnsupportedMediaType"];
            422: components["responses"]["InvalidReadingSet"];
            429: components["responses"]["TooManyRequests"];
            431: components["responses"]["RequestHeaderFieldsTooLarge"];
            500: components["responses"]["InternalError"];
            503: components["responses"]["Overloaded"];
        };
    };
    assess_for_screen: {
        parameters: {
            query?: never;
            header?: {
                /**
                 * @description Trace of the caller (W3C Trace Context), passed on. One that is not valid is not used.
                 * @example 00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01
                 */
                traceparent?: components["parameters"]["Traceparent"];
                /**
                 * @description Languages that the caller reads (RFC 9110, 12.5.4). English where none of them is there.
                 * @example en-US, en;q=0.8
                 */
                "Accept-Language"?: components["parameters"]["AcceptLanguage"];
            };
            path?: never;
            cookie?: never;
        };
        /** @description One visit's readings. */
        requestBody: {
            content: {
                "application/json": components["schemas"]["AssessmentRequest"];
            };
        };
        responses: {
            /** @description What a screen shows first, in 4 kB or less. */
            200: {
                headers: {
                    "Request-Id": components["headers"]["Request-Id"];
                    "Model-Version": components["headers"]["Model-Version"];
                    traceparent: components["headers"]["traceparent"];
                    "Cache-Control": components["headers"]["Cache-Control"];
                    Vary: components["headers"]["Vary"];
                    "Content-Language": components["headers"]["Content-Language"];
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Screen"];
                };
            };
            400: components["responses"]["MalformedRequest"];
            401: components["responses"]["Unauthorized"];
            405: components["responses"]["MethodNotAllowed"];
            406: components["responses"]["NotAcceptable"];
            408: components["responses"]["RequestTimeout"];
            413: components["responses"]["ContentTooLarge"];
            415: components["responses"]["UnsupportedMediaType"];
            422: components["responses"]["InvalidReadingSet"];
            429: components["responses"]["TooManyRequests"];
            431: components["responses"]["RequestHeaderFieldsTooLarge"];
            500: components["responses"]["InternalError"];
            503: components["responses"]["Overloaded"];
        };
    };
    render_note: {
        parameters: {
            query?: never;
            header?: {
                /**
                 * @description Trace of the caller (W3C Trace Context), passed on. One that is not valid is not used.
                 * @example 00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01
                 */
                traceparent?: components["parameters"]["Traceparent"];
                /**
                 * @description Languages that the caller reads (RFC 9110, 12.5.4). English where none of them is there.
                 * @example en-US, en;q=0.8
                 */
                "Accept-Language"?: components["parameters"]["AcceptLanguage"];
            };
            path?: never;
            cookie?: never;
        };
        /** @description One visit's readings. */
        requestBody: {
            content: {
                "application/json": components["schemas"]["AssessmentRequest"];
            };
        };
        responses: {
            /** @description The hand-off note, in the form that Accept asks for. */
            200: {
                headers: {
                    "Request-Id": components["headers"]["Request-Id"];
                    "Model-Version": components["headers"]["Model-Version"];
                    traceparent: components["headers"]["traceparent"];
                    "Cache-Control": components["headers"]["Cache-Control"];
                    Vary: components["headers"]["Vary"];
                    "Content-Language": components["headers"]["Content-Language"];
                    [name: string]: unknown;
                };
                content: {
                    "text/html": string;
                    "image/svg+xml": string;
                    "text/markdown": string;
                    "text/plain": string;
                    "application/pdf": string;
                };
            };
            400: components["responses"]["MalformedRequest"];
            401: components["responses"]["Unauthorized"];
            405: components["responses"]["MethodNotAllowed"];
            406: components["responses"]["NotAcceptable"];
            408: components["responses"]["RequestTimeout"];
            413: components["responses"]["ContentTooLarge"];
            415: components["responses"]["UnsupportedMediaType"];
            422: components["responses"]["InvalidReadingSet"];
            429: components["responses"]["TooManyRequests"];
            431: components["responses"]["RequestHeaderFieldsTooLarge"];
            500: components["responses"]["InternalError"];
            503: components["responses"]["Overloaded"];
        };
    };
    assess_batch: {
        parameters: {
            query?: never;
            header?: {
                /**
                 * @description Trace of the caller (W3C Trace Context), passed on. One that is not valid is not used.
                 * @example 00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01
                 */
                traceparent?: components["parameters"]["Traceparent"];
                /**
                 * @description Languages that the caller reads (RFC 9110, 12.5.4). English where none of them is there.
                 * @example en-US, en;q=0.8
                 */
                "Accept-Language"?: components["parameters"]["AcceptLanguage"];
            };
            path?: never;
            cookie?: never;
        };
        /** @description One reading set per line, each at most 256 KiB. */
        requestBody: {
            content: {
                "application/x-ndjson": string;
                "application/jsonl": string;
            };
        };
        responses: {
            /** @description One line per line of the request, in the same order: an assessment, or a problem with its `line`. */
            200: {
                headers: {
                    "Request-Id": components["headers"]["Request-Id"];
                    "Model-Version": components["headers"]["Model-Version"];
                    traceparent: components["headers"]["traceparent"];
                    "Cache-Control": components["headers"]["Cache-Control"];
                    Vary: components["headers"]["Vary"];
                    "Content-Language": components["headers"]["Content-Language"];
                    [name: string]: unknown;
                };
                content: {
                    "application/x-ndjson": string;
                    "application/jsonl": string;
                };
            };
            400: components["responses"]["MalformedRequest"];
            401: components["responses"]["Unauthorized"];
            405: components["responses"]["MethodNotAllowed"];
            406: components["responses"]["NotAcceptable"];
            408: components["responses"]["RequestTimeout"];
            415: components["responses"]["UnsupportedMediaType"];
            429: components["responses"]["TooManyRequests"];
            431: components["responses"]["RequestHeaderFieldsTooLarge"];
            500: components["responses"]["InternalError"];
            503: components["responses"]["Overloaded"];
        };
    };
    simulate: {
        parameters: {
            query?: never;
            header?: {
                /**
                 * @description Trace of the caller (W3C Trace Context), passed on. One that is not valid is not used.
                 * @example 00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01
                 */
                traceparent?: components["parameters"]["Traceparent"];
            };
            path?: never;
            cookie?: never;
        };
        /** @description A fault, a circuit, meters, what to read. */
        requestBody: {
            content: {
                "application/json": components["schemas"]["SimulationRequest"];
            };
        };
        responses: {
            /** @description The readings that a person would see. */
            200: {
                headers: {
                    "Request-Id": components["headers"]["Request-Id"];
                    "Model-Version": components["headers"]["Model-Version"];
                    traceparent: components["headers"]["traceparent"];
                    "Cache-Control": components["headers"]["Cache-Control"];
                    Vary: components["headers"]["Vary"];
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Simulation"];
                };
            };
            400: components["responses"]["MalformedRequest"];
            401: components["responses"]["Unauthorized"];
            405: components["responses"]["MethodNotAllowed"];
            406: components["responses"]["NotAcceptable"];
            408: components["responses"]["RequestTimeout"];
            413: components["responses"]["ContentTooLarge"];
            415: components["responses"]["UnsupportedMediaType"];
            422: components["responses"]["InvalidReadingSet"];
            429: components["responses"]["TooManyRequests"];
            431: components["responses"]["RequestHeaderFieldsTooLarge"];
            500: components["responses"]["InternalError"];
            503: components["responses"]["Overloaded"];
        };
    };
    list_faults: {
        parameters: {
            query?: never;
            header?: {
                /**
                 * @description Trace of the caller (W3C Trace Context), passed on. One that is not valid is not used.
                 * @example 00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01
                 */
                traceparent?: components["parameters"]["Traceparent"];
                /**
                 * @description ETag of the version that the caller has: 304 where it is still the one.
                 * @example W/"0123456789abcdef0123456789abcdef"
                 */
                "If-None-Match"?: components["parameters"]["IfNoneMatch"];
            };
            path?: never;
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description All faults. */
            200: {
                headers: {
                    "Request-Id": components["headers"]["Request-Id"];
                    "Model-Version": components["headers"]["Model-Version"];
                    traceparent: components["headers"]["traceparent"];
                    ETag: components["headers"]["ETag"];
                    "Cache-Control": components["headers"]["Cache-Control"];
                    Vary: components["headers"]["Vary"];
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["FaultCatalogue"];
                };
            };
            304: components["responses"]["NotModified"];
            400: components["responses"]["MalformedRequest"];
            401: components["responses"]["Unauthorized"];
            405: components["responses"]["MethodNotAllowed"];
            406: components["responses"]["NotAcceptable"];
            429: components["responses"]["TooManyRequests"];
            431: components["responses"]["RequestHeaderFieldsTooLarge"];
            500: components["responses"]["InternalError"];
            503: components["responses"]["Overloaded"];
        };
    };
    list_cautions: {
        parameters: {
            query?: never;
            header?: {
                /**
                 * @description Trace of the caller (W3C Trace Context), passed on. One that is not valid is not used.
                 * @example 00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01
                 */
                traceparent?: components["parameters"]["Traceparent"];
                /**
                 * @description ETag of the version that the caller has: 304 where it is still the one.
                 * @example W/"0123456789abcdef0123456789abcdef"
                 */
                "If-None-Match"?: components["parameters"]["IfNoneMatch"];
                /**
                 * @description Languages that the caller reads (RFC 9110, 12.5.4). English where none of them is there.
                 * @example en-US, en;q=0.8
                 */
                "Accept-Language"?: components["parameters"]["AcceptLanguage"];
            };
            path?: never;
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description All cautions. */
            200: {
                headers: {
                    "Request-Id": components["headers"]["Request-Id"];
                    "Model-Version": components["headers"]["Model-Version"];
                    traceparent: components["headers"]["traceparent"];
                    ETag: components["headers"]["ETag"];
                    "Cache-Control": components["headers"]["Cache-Control"];
                    Vary: components["headers"]["Vary"];
                    "Content-Language": components["headers"]["Content-Language"];
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["CautionCatalogue"];
                };
            };
            304: components["responses"]["NotModified"];
            400: components["responses"]["MalformedRequest"];
            401: components["responses"]["Unauthorized"];
            405: components["responses"]["MethodNotAllowed"];
            406: components["responses"]["NotAcceptable"];
            429: components["responses"]["TooManyRequests"];
            431: components["responses"]["RequestHeaderFieldsTooLarge"];
            500: components["responses"]["InternalError"];
            503: components["responses"]["Overloaded"];
        };
    };
    list_supply_systems: {
        parameters: {
            query?: never;
            header?: {
                /**
                 * @description Trace of the caller (W3C Trace Context), passed on. One that is not valid is not used.
                 * @example 00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01
                 */
                traceparent?: components["parameters"]["Traceparent"];
                /**
                 * @description ETag of the version that the caller has: 304 where it is still the one.
                 * @example W/"0123456789abcdef0123456789abcdef"
                 */
                "If-None-Match"?: components["parameters"]["IfNoneMatch"];
            };
            path?: never;
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description All supply systems. */
            200: {
                headers: {
                    "Request-Id": components["headers"]["Request-Id"];
                    "Model-Version": components["headers"]["Model-Version"];
                    traceparent: components["headers"]["traceparent"];
                    ETag: components["headers"]["ETag"];
                    "Cache-Control": components["headers"]["Cache-Control"];
                    Vary: components["headers"]["Vary"];
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["SupplySystemCatalogue"];
                };
            };
            304: components["responses"]["NotModified"];
            400: components["responses"]["MalformedRequest"];
            401: components["responses"]["Unauthorized"];
            405: components["responses"]["MethodNotAllowed"];
            406: components["responses"]["NotAcceptable"];
            429: components["responses"]["TooManyRequests"];
            431: components["responses"]["RequestHeaderFieldsTooLarge"];
            500: components["responses"]["InternalError"];
            503: components["responses"]["Overloaded"];
        };
    };
    list_meters: {
        parameters: {
            query?: never;
            header?: {
                /**
                 * @description Trace of the caller (W3C Trace Context), passed on. One that is not valid is not used.
                 * @example 00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01
                 */
                traceparent?: components["parameters"]["Traceparent"];
                /**
                 * @description ETag of the version that the caller has: 304 where it is still the one.
                 * @example W/"0123456789abcdef0123456789abcdef"
                 */
                "If-None-Match"?: components["parameters"]["IfNoneMatch"];
            };
            path?: never;
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description All kinds of meter. */
            200: {
                headers: {
                    "Request-Id": components["headers"]["Request-Id"];
                    "Model-Version": components["headers"]["Model-Version"];
                    traceparent: components["headers"]["traceparent"];
                    ETag: components["headers"]["ETag"];
                    "Cache-Control": components["headers"]["Cache-Control"];
                    Vary: components["headers"]["Vary"];
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["MeterCatalogue"];
                };
            };
            304: components["responses"]["NotModified"];
            400: components["responses"]["MalformedRequest"];
            401: components["responses"]["Unauthorized"];
            405: components["responses"]["MethodNotAllowed"];
            406: components["responses"]["NotAcceptable"];
            429: components["responses"]["TooManyRequests"];
            431: components["responses"]["RequestHeaderFieldsTooLarge"];
            500: components["responses"]["InternalError"];
            503: components["responses"]["Overloaded"];
        };
    };
    list_conductors: {
        parameters: {
            query?: never;
            header?: {
                /**
                 * @description Trace of the caller (W3C Trace Context), passed on. One that is not valid is not used.
                 * @example 00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01
                 */
                traceparent?: components["parameters"]["Traceparent"];
                /**
                 * @description ETag of the version that the caller has: 304 where it is still the one.
                 * @example W/"0123456789abcdef0123456789abcdef"
                 */
                "If-None-Match"?: components["parameters"]["IfNoneMatch"];
            };
            path?: never;
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description All listed conductor sizes. */
            200: {
                headers: {
                    "Request-Id": components["headers"]["Request-Id"];
                    "Model-Version": components["headers"]["Model-Version"];
                    traceparent: components["headers"]["traceparent"];
                    ETag: components["headers"]["ETag"];
                    "Cache-Control": components["headers"]["Cache-Control"];
                    Vary: components["headers"]["Vary"];
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["ConductorCatalogue"];
                };
            };
            304: components["responses"]["NotModified"];
            400: components["responses"]["MalformedRequest"];
            401: components["responses"]["Unauthorized"];
            405: components["responses"]["MethodNotAllowed"];
            406: components["responses"]["NotAcceptable"];
            429: components["responses"]["TooManyRequests"];
            431: components["responses"]["RequestHeaderFieldsTooLarge"];
            500: components["responses"]["InternalError"];
            503: components["responses"]["Overloaded"];
        };
    };
    list_receptacles: {
        parameters: {
            query?: never;
            header?: {
                /**
                 * @description Trace of the caller (W3C Trace Context), passed on. One that is not valid is not used.
                 * @example 00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01
                 */
                traceparent?: components["parameters"]["Traceparent"];
                /**
                 * @description ETag of the version that the caller has: 304 where it is still the one.
                 * @example W/"0123456789abcdef0123456789abcdef"
                 */
                "If-None-Match"?: components["parameters"]["IfNoneMatch"];
            };
            path?: never;
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description All receptacles. */
            200: {
                headers: {
                    "Request-Id": components["headers"]["Request-Id"];
                    "Model-Version": components["headers"]["Model-Version"];
                    traceparent: components["headers"]["traceparent"];
                    ETag: components["headers"]["ETag"];
                    "Cache-Control": components["headers"]["Cache-Control"];
                    Vary: components["headers"]["Vary"];
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["ReceptacleCatalogue"];
                };
            };
            304: components["responses"]["NotModified"];
            400: components["responses"]["MalformedRequest"];
            401: components["responses"]["Unauthorized"];
            405: components["responses"]["MethodNotAllowed"];
            406: components["responses"]["NotAcceptable"];
            429: components["responses"]["TooManyRequests"];
            431: components["responses"]["RequestHeaderFieldsTooLarge"];
            500: components["responses"]["InternalError"];
            503: components["responses"]["Overloaded"];
        };
    };
    list_observations: {
        parameters: {
            query?: never;
            header?: {
                /**
                 * @description Trace of the caller (W3C Trace Context), passed on. One that is not valid is not used.
                 * @example 00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01
                 */
                traceparent?: components["parameters"]["Traceparent"];
                /**
                 * @description ETag of the version that the caller has: 304 where it is still the one.
                 * @example W/"0123456789abcdef0123456789abcdef"
                 */
                "If-None-Match"?: components["parameters"]["IfNoneMatch"];
            };
            path?: never;
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description All observations. */
            200: {
                headers: {
                    "Request-Id": components["headers"]["Request-Id"];
                    "Model-Version": components["headers"]["Model-Version"];
                    traceparent: components["headers"]["traceparent"];
                    ETag: components["headers"]["ETag"];
                    "Cache-Control": components["headers"]["Cache-Control"];
                    Vary: components["headers"]["Vary"];
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["ObservationCatalogue"];
                };
            };
            304: components["responses"]["NotModified"];
            400: components["responses"]["MalformedRequest"];
            401: components["responses"]["Unauthorized"];
            405: components["responses"]["MethodNotAllowed"];
            406: components["responses"]["NotAcceptable"];
            429: components["responses"]["TooManyRequests"];
            431: components["responses"]["RequestHeaderFieldsTooLarge"];
            500: components["responses"]["InternalError"];
            503: components["responses"]["Overloaded"];
        };
    };
    list_units: {
        parameters: {
            query?: never;
            header?: {
                /**
                 * @description Trace of the caller (W3C Trace Context), passed on. One that is not valid is not used.
                 * @example 00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01
                 */
                traceparent?: components["parameters"]["Traceparent"];
                /**
                 * @description ETag of the version that the caller has: 304 where it is still the one.
                 * @example W/"0123456789abcdef0123456789abcdef"
                 */
                "If-None-Match"?: components["parameters"]["IfNoneMatch"];
            };
            path?: never;
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description All units and bounds. */
            200: {
                headers: {
                    "Request-Id": components["headers"]["Request-Id"];
                    "Model-Version": components["headers"]["Model-Version"];
                    traceparent: components["headers"]["traceparent"];
                    ETag: components["headers"]["ETag"];
                    "Cache-Control": components["headers"]["Cache-Control"];
                    Vary: components["headers"]["Vary"];
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["UnitCatalogue"];
                };
            };
            304: components["responses"]["NotModified"];
            400: components["responses"]["MalformedRequest"];
            401: components["responses"]["Unauthorized"];
            405: components["responses"]["MethodNotAllowed"];
            406: components["responses"]["NotAcceptable"];
            429: components["responses"]["TooManyRequests"];
            431: components["responses"]["RequestHeaderFieldsTooLarge"];
            500: components["responses"]["InternalError"];
            503: components["responses"]["Overloaded"];
        };
    };
    show_model: {
        parameters: {
            query?: never;
            header?: {
                /**
                 * @description Trace of the caller (W3C Trace Context), passed on. One that is not valid is not used.
                 * @example 00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01
                 */
                traceparent?: components["parameters"]["Traceparent"];
                /**
                 * @description ETag of the version that the caller has: 304 where it is still the one.
                 * @example W/"0123456789abcdef0123456789abcdef"
                 */
                "If-None-Match"?: components["parameters"]["IfNoneMatch"];
            };
            path?: never;
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description The model. */
            200: {
                headers: {
                    "Request-Id": components["headers"]["Request-Id"];
                    "Model-Version": components["headers"]["Model-Version"];
                    traceparent: components["headers"]["traceparent"];
                    ETag: components["headers"]["ETag"];
                    "Cache-Control": components["headers"]["Cache-Control"];
                    Vary: components["headers"]["Vary"];
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["ModelDescription"];
                };
            };
            304: components["responses"]["NotModified"];
            400: components["responses"]["MalformedRequest"];
            401: components["responses"]["Unauthorized"];
            405: components["responses"]["MethodNotAllowed"];
            406: components["responses"]["NotAcceptable"];
            429: components["responses"]["TooManyRequests"];
            431: components["responses"]["RequestHeaderFieldsTooLarge"];
            500: components["responses"]["InternalError"];
            503: components["responses"]["Overloaded"];
        };
    };
    list_limits: {
        parameters: {
            query?: never;
            header?: {
                /**
                 * @description Trace of the caller (W3C Trace Context), passed on. One that is not valid is not used.
                 * @example 00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01
                 */
                traceparent?: components["parameters"]["Traceparent"];
                /**
                 * @description ETag of the version that the caller has: 304 where it is still the one.
                 * @example W/"0123456789abcdef0123456789abcdef"
                 */
                "If-None-Match"?: components["parameters"]["IfNoneMatch"];
            };
            path?: never;
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description All limits of this installation. */
            200: {
                headers: {
                    "Request-Id": components["headers"]["Request-Id"];
                    "Model-Version": components["headers"]["Model-Version"];
                    traceparent: components["headers"]["traceparent"];
                    ETag: components["headers"]["ETag"];
                    "Cache-Control": components["headers"]["Cache-Control"];
                    Vary: components["headers"]["Vary"];
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["LimitCatalogue"];
                };
            };
            304: components["responses"]["NotModified"];
            400: components["responses"]["MalformedRequest"];
            401: components["responses"]["Unauthorized"];
            405: components["responses"]["MethodNotAllowed"];
            406: components["responses"]["NotAcceptable"];
            429: components["responses"]["TooManyRequests"];
            431: components["responses"]["RequestHeaderFieldsTooLarge"];
            500: components["responses"]["InternalError"];
            503: components["responses"]["Overloaded"];
        };
    };
    describe_problem: {
        parameters: {
            query?: never;
            header?: {
                /**
                 * @description Trace of the caller (W3C Trace Context), passed on. One that is not valid is not used.
                 * @example 00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01
                 */
                traceparent?: components["parameters"]["Traceparent"];
            };
            path: {
                /**
                 * @description Last part of a problem's `type`.
                 * @example invalid-reading-set
                 */
                name: components["parameters"]["ProblemName"];
            };
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description The page of the problem type. */
            200: {
                headers: {
                    "Request-Id": components["headers"]["Request-Id"];
                    "Model-Version": components["headers"]["Model-Version"];
                    traceparent: components["headers"]["traceparent"];
                    "Cache-Control": components["headers"]["Cache-Control"];
                    [name: string]: unknown;
                };
                content: {
                    "text/html": string;
                };
            };
            400: components["responses"]["MalformedRequest"];
            404: components["responses"]["NotFound"];
            405: components["responses"]["MethodNotAllowed"];
            431: components["responses"]["RequestHeaderFieldsTooLarge"];
            500: components["responses"]["InternalError"];
            503: components["responses"]["Overloaded"];
        };
    };
    show_docs: {
        parameters: {
            query?: never;
            header?: {
                /**
                 * @description Trace of the caller (W3C Trace Context), passed on. One that is not valid is not used.
                 * @example 00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01
                 */
                traceparent?: components["parameters"]["Traceparent"];
            };
            path?: never;
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description The documentation, with a form to try the service. */
            200: {
                headers: {
                    "Request-Id": components["headers"]["Request-Id"];
                    "Model-Version": components["headers"]["Model-Version"];
                    traceparent: components["headers"]["traceparent"];
                    "Cache-Control": components["headers"]["Cache-Control"];
                    [name: string]: unknown;
                };
                content: {
                    "text/html": string;
                };
            };
            400: components["responses"]["MalformedRequest"];
            405: components["responses"]["MethodNotAllowed"];
            431: components["responses"]["RequestHeaderFieldsTooLarge"];
            500: components["responses"]["InternalError"];
            503: components["responses"]["Overloaded"];
        };
    };
    show_document: {
        parameters: {
            query?: never;
            header?: {
                /**
                 * @description Trace of the caller (W3C Trace Context), passed on. One that is not valid is not used.
                 * @example 00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01
                 */
                traceparent?: components["parameters"]["Traceparent"];
                /**
                 * @description ETag of the version that the caller has: 304 where it is still the one.
                 * @example W/"0123456789abcdef0123456789abcdef"
                 */
                "If-None-Match"?: components["parameters"]["IfNoneMatch"];
            };
            path?: never;
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description This document. */
            200: {
                headers: {
                    "Request-Id": components["headers"]["Request-Id"];
                    "Model-Version": components["headers"]["Model-Version"];
                    traceparent: components["headers"]["traceparent"];
                    ETag: components["headers"]["ETag"];
                    "Cache-Control": components["headers"]["Cache-Control"];
                    Vary: components["headers"]["Vary"];
                    [name: string]: unknown;
                };
                content: {
                    "application/json": Record<string, never>;
                };
            };
            304: components["responses"]["NotModified"];
            400: components["responses"]["MalformedRequest"];
            405: components["responses"]["MethodNotAllowed"];
            406: components["responses"]["NotAcceptable"];
            431: components["responses"]["RequestHeaderFieldsTooLarge"];
            500: components["responses"]["InternalError"];
            503: components["responses"]["Overloaded"];
        };
    };
    live: {
        parameters: {
            query?: never;
            header?: {
                /**
                 * @description Trace of the caller (W3C Trace Context), passed on. One that is not valid is not used.
                 * @example 00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01
                 */
                traceparent?: components["parameters"]["Traceparent"];
            };
            path?: never;
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description The process runs. */
            200: {
                headers: {
                    "Request-Id": components["headers"]["Request-Id"];
                    "Model-Version": components["headers"]["Model-Version"];
                    traceparent: components["headers"]["traceparent"];
                    "Cache-Control": components["headers"]["Cache-Control"];
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Health"];
                };
            };
            400: components["responses"]["MalformedRequest"];
            405: components["responses"]["MethodNotAllowed"];
            431: components["responses"]["RequestHeaderFieldsTooLarge"];
            500: components["responses"]["InternalError"];
            503: components["responses"]["Overloaded"];
        };
    };
    ready: {
        parameters: {
            query?: never;
            header?: {
                /**
                 * @description Trace of the caller (W3C Trace Context), passed on. One that is not valid is not used.
                 * @example 00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01
                 */
                traceparent?: components["parameters"]["Traceparent"];
            };
            path?: never;
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description Requests are taken. */
            200: {
                headers: {
                    "Request-Id": components["headers"]["Request-Id"];
                    "Model-Version": components["headers"]["Model-Version"];
                    traceparent: components["headers"]["traceparent"];
                    "Cache-Control": components["headers"]["Cache-Control"];
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Health"];
                };
            };
            400: components["responses"]["MalformedRequest"];
            405: components["responses"]["MethodNotAllowed"];
            431: components["responses"]["RequestHeaderFieldsTooLarge"];
            500: components["responses"]["InternalError"];
            503: components["responses"]["Overloaded"];
        };
    };
    metrics: {
        parameters: {
            query?: never;
            header?: {
                /**
                 * @description Trace of the caller (W3C Trace Context), passed on. One that is not valid is not used.
                 * @example 00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01
                 */
                traceparent?: components["parameters"]["Traceparent"];
            };
            path?: never;
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description Counts, durations and findings; no readings. */
            200: {
                headers: {
                    "Request-Id": components["headers"]["Request-Id"];
                    "Model-Version": components["headers"]["Model-Version"];
                    traceparent: components["headers"]["traceparent"];
                    "Cache-Control": components["headers"]["Cache-Control"];
                    [name: string]: unknown;
                };
                content: {
                    "text/plain": string;
                };
            };
            400: components["responses"]["MalformedRequest"];
            405: components["responses"]["MethodNotAllowed"];
            431: components["responses"]["RequestHeaderFieldsTooLarge"];
            500: components["responses"]["InternalError"];
            503: components["responses"]["Overloaded"];
        };
    };
}

/** Words of answers that are known today. A later service may answer with others: always have an "else". */
export interface KnownWords {
    Bound: "two_sided" | "at_least" | "at_most";
    CautionCode: "heat_at_joint_urgent" | "service_neutral" | "grounded_frames_off_earth" | "feeder_neutral" | "outlet_voltage_wrong" | "frame_as_live" | "neutral_as_live" | "leak_in_appliance" | "current_on_ground" | "absence_not_proven" | "tripped_breaker" | "heat_at_joint" | "frame_unprotected" | "false_ground" | "never_substitute_neutral" | "prove_the_tester" | "live_contacts" | "resistance_isolated_only" | "silent_proximity_detector" | "licensed_work";
    CheckCode: "sum_below_whole" | "repeat_disagrees" | "proximity_disagrees" | "off_the_line" | "currents_do_not_close" | "current_with_nothing_connected" | "resistance_on_live_conductor" | "not_explained" | "current_on_ground" | "too_low_to_run";
    ConductorCode: "L1" | "L2" | "N" | "G" | "metalwork";
    ConfidenceLevel: "high" | "moderate" | "low" | "none";
    DegreeCode: "open" | "high_resistance";
    Determination: "established" | "probable" | "undetermined";
    Disposition: "stop_and_refer" | "repair_and_retest" | "take_more_readings" | "no_supply_fault_found";
    FaultCode: "none_found" | "open_neutral" | "high_resistance_neutral" | "open_leg" | "high_resistance_leg" | "open_service_neutral" | "high_resistance_service_neutral" | "no_supply" | "voltage_low" | "voltage_high" | "other_supply_system" | "legs_from_same_pole" | "leg_neutral_transposed" | "leg_ground_transposed" | "open_ground" | "open_feeder_neutral" | "high_resistance_feeder_neutral" | "breaker_open" | "neutral_ground_transposed" | "neutral_ground_joined" | "leak_to_ground" | "intermittent_connection" | "tester_dead" | "neutral_not_bonded" | "readings_inconsistent";
    FaultOfRequest: "contradiction" | "decimal_comma" | "direct_current" | "given_twice" | "misleading_label" | "missing" | "no_load_connected" | "no_such_conductor" | "not_a_number" | "not_a_quantity" | "not_accepted" | "not_connected" | "not_finite" | "not_simulated" | "one_of" | "out_of_bounds" | "over_range" | "quantity_too_long" | "same_conductor" | "too_many_unknowns" | "too_much_work" | "undefined_load_state" | "undefined_meter" | "undefined_reading" | "unit_missing" | "unknown_fault" | "unknown_field" | "unknown_unit" | "wrong_dimension" | "wrong_kind_of_meter" | "wrong_length" | "wrong_type";
    Flag: "low" | "high" | "as_expected";
    HazardCode: "live_contact" | "open_panel" | "opened_appliance" | "connected_plug" | "load_current" | "neutral_pulled_up" | "meter_heats" | "frame_maybe_live" | "clamp_near_live" | "isolation_needed" | "silence_is_no_proof" | "frames_off_earth" | "frame_carries_test_current";
    LoadStateCode: "disconnected" | "idle" | "running" | "test_load";
    MeterCode: "high_impedance_voltmeter" | "low_impedance_voltmeter" | "proximity_detector" | "clamp_ammeter" | "ohmmeter";
    NextReason: "enough" | "nothing_would_tell" | "stop_first";
    ObservationWord: "breaker_found_tripped" | "lights_brighten_and_dim" | "scorched_or_discoloured" | "works_when_moved" | "other_circuits_live" | "other_circuits_dead" | "ground_fault_breaker_tripped";
    PartyCode: "utility" | "electrician" | "technician";
    PlaceCode: "none" | "leg" | "neutral" | "both_legs" | "ground" | "supply_voltage" | "supply_system" | "connections" | "appliance" | "tester" | "readings" | "service_leg" | "feeder_leg" | "branch_leg" | "cord_leg" | "service_neutral" | "feeder_neutral" | "branch_neutral" | "cord_neutral" | "supply_lost" | "breaker" | "other_supply_system" | "neutral_not_bonded" | "transposed" | "joined" | "legs_from_same_pole" | "leak_to_ground";
    PointCode: "service_panel" | "sub_panel" | "panel" | "receptacle" | "appliance_terminals";
    ReadingKind: "voltage" | "proximity" | "current" | "resistance";
    SectionCode: "service" | "feeder" | "branch";
    Severity: "danger" | "warning" | "notice";
    SupplySystemCode: "split_phase_120_240" | "wye_120_208" | "single_phase_120" | "high_leg_delta_120_240";
    ToldBy: "readings" | "prior";
}
