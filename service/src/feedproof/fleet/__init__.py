"""Many reading sets at once: whole files, Arrow record batches, base rates and reports of a fleet.

The answers are the service's own: the same parsing, the same inference, the same rules, and the same digits. This
package needs the extra `fleet` (`pip install "feedproof[fleet]"`); nothing else of the service imports it.

- `feedproof.fleet.schema`: the columns that come in and go out, as Arrow schemas.
- `feedproof.fleet.batches`: `assess_batches`, which any engine that passes Arrow record batches can run.
- `feedproof.fleet.run`: whole files over all cores, interrupted and resumed.
- `feedproof.fleet.store`: answers that processes and runs share, so that what repeats is computed once.
- `feedproof.fleet.rates`: base rates of the faults, estimated from a fleet's own assessments.
- `feedproof.fleet.report`: tables and one page to look at.
"""
