"""The local page: a finished run at the screen, for the operator, the customer and the auditor.

Lives here: what a browser asks and is answered.  Not here: any judgement of a piece (`vdp.verify`), of a seal or a
ledger (`vdp.run.audit`), or of an approval (`vdp.proof`).
"""
