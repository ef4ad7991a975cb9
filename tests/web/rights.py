"""Who may come in at which address, written by hand: the test holds the running service against it.

``anyone``: nobody is asked. ``signed in``: whoever signed in. ``shop``: owner and technician. ``owner``: he alone.
``own``: the shop, and the customer whose it is. ``customers``: they alone, each his own. ``key``: whoever has the
secret in the address. ``tablet``: a tablet of the shop, whoever is on it. ``by password``: whoever signed in, but not
by PIN. ``technician``: he alone, and not by PIN. ``monitor``: the bearer of the monitor's token, which this shop has
not set.
"""

TABLE = """
GET  /sign-in                                                     | anyone
POST /sign-in                                                     | anyone
POST /sign-out                                                    | signed in
GET  /sign-in/{token}                                             | key
POST /sign-in/{token}                                             | key
GET  /tablets                                                     | owner
POST /tablets                                                     | owner
POST /tablets/{device_id}/end                                     | owner
GET  /tablets/begin/{token}                                       | key
POST /tablets/begin/{token}                                       | key
GET  /tablet                                                      | tablet
GET  /tablet/{person_id}                                          | tablet
POST /tablet/{person_id}                                          | tablet
GET  /labels                                                      | owner
POST /labels                                                      | owner
GET  /batches/{batch_id}/labels.pdf                               | shop
GET  /blocks/{block_id}/label.pdf                                 | shop
GET  /sacks/{receipt_id}/label.pdf                                | shop
GET  /calendar                                                    | shop
POST /calendar                                                    | shop
POST /calendar/end                                                | shop
GET  /calendar/{token}                                            | key
GET  /today                                                       | shop
POST /today/undo/{position}                                       | shop
GET  /at/{thing_id}                                               | shop
GET  /find                                                        | shop
GET  /live                                                        | shop
GET  /unsent                                                      | shop
GET  /unsent/shop                                                 | shop
POST /unsent/settled                                              | shop
GET  /sent/{key}                                                  | signed in
POST /tablet/state                                                | tablet
GET  /offline                                                     | anyone
GET  /service-worker.js                                           | anyone
GET  /manifest.webmanifest                                        | anyone
GET  /you                                                         | signed in
POST /you/confirm                                                 | by password
POST /you/sessions/{ticket_id}/end                                | by password
POST /you/password                                                | by password
POST /you/language                                                | customers
POST /you/pin                                                     | technician
POST /you/pin/end                                                 | technician
GET  /you/second-factor                                           | by password
POST /you/second-factor                                           | by password
POST /you/second-factor/end                                       | by password
GET  /jobs/new                                                    | shop
POST /jobs                                                        | shop
GET  /jobs/{job_id}/asked                                         | shop
POST /jobs/{job_id}/asked                                         | shop
POST /jobs/{job_id}/codes                                      | shop
POST /jobs/{job_id}/close                                         | shop
POST /jobs/{job_id}/open-again                                    | shop
GET  /jobs/{job_id}/intake                                        | shop
POST /jobs/{job_id}/intake                                        | shop
POST /sacks/{receipt_id}                                          | shop
POST /sacks/{receipt_id}/preparation                              | shop
GET  /sacks/{receipt_id}                                          | shop
POST /sacks/{receipt_id}/later                                    | shop
POST /sacks/{receipt_id}/cans                                     | shop
POST /sacks/{receipt_id}/cans/{can_id}                            | shop
POST /sacks/{receipt_id}/cans/{can_id}/end                        | shop
GET  /soils/{material_id}                                         | shop
POST /soils/{material_id}/sieves                                  | shop
POST /soils/{material_id}/flow                                    | shop
POST /soils/{material_id}/threads                                 | shop
POST /soils/{material_id}/shrinkage                               | shop
POST /soils/{material_id}/signs                                   | shop
POST /soils/{material_id}/hydrometer                              | shop
POST /soils/{material_id}/jar                                     | shop
POST /soils/{material_id}/later                                   | shop
POST /soils/{material_id}/bulk                                    | shop
POST /soils/{material_id}/tests/{test_id}/end                     | shop
GET  /customers                                                   | shop
POST /customers                                                   | shop
GET  /customers/{customer_id}                                     | shop
POST /customers/{customer_id}                                     | shop
GET  /jobs                                                        | signed in
GET  /                                                            | signed in
GET  /jobs/closed                                                 | shop
GET  /search                                                      | shop
GET  /jobs/{job_id}                                               | shop
GET  /photos/{photo_id}                                           | own
GET  /jobs/{job_id}/photos                                        | own
GET  /jobs/{job_id}/questions                                     | own
POST /jobs/{job_id}/questions                                     | own
GET  /requests/new                                                | customers
POST /requests                                                    | customers
GET  /jobs/{job_id}/offer                                         | own
POST /jobs/{job_id}/offer                                         | owner
POST /jobs/{job_id}/offer/accept                                  | own
POST /jobs/{job_id}/offer/decline                                 | own
POST /jobs/{job_id}/offer/start                                   | owner
GET  /jobs/{job_id}/slip                                          | own
POST /sacks/{receipt_id}/photos                                   | shop
GET  /blocks/{block_id}/photos                                    | shop
POST /blocks/{block_id}/photos                                    | shop
POST /jobs/{job_id}/photos                                        | shop
POST /photos/{photo_id}/shown                                     | owner
POST /photos/{photo_id}/remove                                    | shop
GET  /people                                                      | owner
POST /people                                                      | owner
POST /people/{person_id}/address                                  | owner
POST /people/{person_id}/reset                                    | owner
POST /people/{person_id}/end                                      | owner
POST /people/{person_id}/tokens                                   | owner
POST /tokens/{ticket_id}/end                                      | owner
GET  /mail                                                        | owner
POST /mail/{mail_id}/again                                        | owner
POST /mail/{mail_id}/remove                                       | owner
POST /you/mail                                                    | signed in
GET  /expected-strength                                                       | owner
POST /expected-strength                                                       | owner
GET  /settings                                                    | owner
POST /settings                                                    | owner
POST /settings/second-factor                                      | owner
GET  /opening-hours                                                 | owner
POST /opening-hours                                                 | owner
POST /opening-hours/days                                            | owner
POST /opening-hours/days/{closed_day_id}/open                       | owner
GET  /backups                                                     | owner
POST /backups/archives                                            | owner
POST /backups/archives/{name}                                     | owner
GET  /presses                                                     | shop
POST /presses                                                     | owner
POST /presses/moulds                                              | owner
POST /presses/{press_id}/gauges                                   | owner
POST /presses/{press_id}/corrections                              | owner
POST /presses/{press_id}/end                                      | owner
POST /presses/moulds/{mould_id}/corrections                       | owner
POST /presses/moulds/{mould_id}/end                               | owner
POST /presses/gauges/{gauge_id}/corrections                       | owner
POST /presses/gauges/{gauge_id}/end                               | owner
GET  /jobs/{job_id}/readings                                      | shop
GET  /blocks/{block_id}/outcome                                   | shop
POST /presses/gauges/{gauge_id}/calibrations                      | owner
GET  /materials                                                   | shop
POST /materials                                                   | shop
GET  /materials/{material_id}                                     | shop
POST /materials/{material_id}/prices                              | owner
POST /materials/{material_id}/name                                | shop
POST /materials/{material_id}/end                                 | owner
GET  /codes                                                    | shop
POST /codes/published/{key}                                    | owner
POST /codes                                                    | owner
POST /codes/limits                                             | owner
POST /codes/own/{own_id}/name                                  | owner
POST /codes/own/{own_id}/end                                   | owner
GET  /soil-limits                                                       | shop
POST /soil-limits                                                       | owner
POST /soil-limits/{own_id}/end                                          | owner
GET  /jobs/{job_id}/plan/blend                                    | shop
GET  /jobs/{job_id}/plan/shares                                   | shop
POST /jobs/{job_id}/plan/shares                                   | shop
GET  /jobs/{job_id}/plan/moisture                                 | shop
POST /jobs/{job_id}/plan/moisture                                 | shop
POST /jobs/{job_id}/plan/moisture/{trial_id}/exclude                | shop
GET  /recipes/{recipe_id}/site                                    | shop
GET  /jobs/{job_id}/plan                                          | shop
GET  /jobs/{job_id}/plan/new                                      | shop
POST /jobs/{job_id}/plan                                          | shop
GET  /recipes/{recipe_id}                                         | shop
POST /recipes/{recipe_id}                                         | shop
GET  /recipes/{recipe_id}/replace                                 | shop
POST /recipes/{recipe_id}/replace                                 | shop
POST /jobs/{job_id}/plan/{recipe_id}/drop                         | shop
POST /jobs/{job_id}/plan/like                                     | shop
POST /jobs/{job_id}/plan/{recipe_id}/mix-day                      | shop
POST /jobs/{job_id}/plan/{recipe_id}/age                          | shop
GET  /jobs/{job_id}/mixing                                        | shop
GET  /recipes/{recipe_id}/mix                                     | shop
POST /recipes/{recipe_id}/mix                                     | shop
GET  /batches/{batch_id}                                          | shop
POST /batches/{batch_id}/cancel                                   | shop
POST /batches/{batch_id}/weighed                                  | shop
POST /batches/{batch_id}/corrections                              | shop
POST /batches/{batch_id}/cans                                     | shop
POST /batches/{batch_id}/cans/{can_id}/exclude                      | shop
GET  /batches/{batch_id}/press                                    | shop
POST /batches/{batch_id}/press                                    | shop
GET  /batches/{batch_id}/test-charge                                    | shop
POST /batches/{batch_id}/test-charge                                    | shop
GET  /batches/{batch_id}/labels                                   | shop
GET  /blocks/{block_id}/pressing                                  | shop
POST /blocks/{block_id}/pressing                                  | shop
POST /blocks/{block_id}/lost                                      | shop
GET  /curing                                                      | shop
GET  /jobs/{job_id}/curing                                        | shop
POST /curing/soaks                                                | shop
POST /curing/soaks/end                                            | shop
POST /curing/batches/{batch_id}/cover                             | shop
POST /curing/batches/{batch_id}/uncover                           | shop
POST /curing/covers                                               | shop
POST /curing/covers/end                                           | shop
POST /curing/batches/{batch_id}/corrections                       | shop
GET  /crushing                                                    | shop
GET  /jobs/{job_id}/crushing                                      | shop
POST /crushing/sessions                                             | shop
POST /crushing/sessions/{press_session_id}/close                    | shop
POST /crushing/sessions/{press_session_id}/corrections              | shop
GET  /blocks/{block_id}                                           | shop
POST /blocks/{block_id}/crushings                                 | shop
POST /blocks/{block_id}/crushings/{crushing_id}/corrections       | shop
POST /blocks/{block_id}/crushings/{crushing_id}/withdrawals       | shop
POST /blocks/{block_id}/notes                                     | shop
POST /blocks/{block_id}/sessions                                    | shop
POST /blocks/{block_id}/losses                                    | shop
POST /blocks/{block_id}/found                                     | shop
POST /blocks/{block_id}/soaks/{soak_id}/corrections               | shop
GET  /blocks/{block_id}/tests                                     | shop
GET  /blocks/{block_id}/tests/{test}                              | shop
POST /blocks/{block_id}/tests/{test}                              | shop
POST /blocks/{block_id}/tests/absorption/after                    | shop
POST /blocks/{block_id}/tests/{test}/{reading_id}/corrections     | shop
POST /blocks/{block_id}/tests/{test}/{reading_id}/exclude           | shop
GET  /jobs/{job_id}/results                                       | shop
GET  /jobs/{job_id}/next                                          | shop
GET  /jobs/{job_id}/least-share                                   | shop
GET  /jobs/{job_id}/issued                                        | shop
GET  /jobs/{job_id}/issue                                         | owner
POST /jobs/{job_id}/issue                                         | owner
GET  /jobs/{job_id}/issue/preview                                 | owner
GET  /jobs/{job_id}/issue/preview.pdf                             | owner
GET  /jobs/{job_id}/issued/{issued_id}                            | owner
POST /jobs/{job_id}/issued/{issued_id}/withdraw                   | owner
POST /jobs/{job_id}/issued/{issued_id}/shares                     | owner
POST /jobs/{job_id}/shares/{link_id}/end                          | owner
GET  /results/{issued_id}.pdf                                     | own
GET  /results/{issued_id}.json                                    | own
GET  /results/{issued_id}.csv                                     | own
GET  /results/{issued_id}.xlsx                                    | own
GET  /jobs/{job_id}/readings.{form}                               | shop
GET  /customers/{customer_id}/soils                               | shop
GET  /overview                                                    | shop
POST /overview/sacks/{receipt_id}/discarded                       | shop
POST /materials/{material_id}/good-until                          | shop
GET  /invoice-lines                                               | owner
GET  /jobs/{job_id}/invoice                                       | owner
POST /jobs/{job_id}/invoice                                       | owner
POST /jobs/{job_id}/invoice/{line_id}/remove                      | owner
POST /jobs/{job_id}/invoice/paid                                  | owner
POST /jobs/{job_id}/invoice/not-paid                              | owner
GET  /export                                                      | owner
POST /export                                                      | owner
GET  /import                                                      | owner
POST /import                                                      | owner
GET  /import/{file_id}                                            | owner
GET  /import/{file_id}/problems.csv                               | owner
POST /import/{file_id}                                            | owner
POST /import/{file_id}/end                                        | owner
GET  /results/{issued_id}                                         | own
GET  /results/{issued_id}/links                                   | customers
POST /results/{issued_id}/links                                   | customers
POST /results/{issued_id}/links/{link_id}/end                     | customers
GET  /shared/{token}                                              | key
GET  /shared/{token}/pdf                                          | key
GET  /check                                                       | anyone
GET  /check/{issued_id}                                           | anyone
GET  /soils                                                       | customers
GET  /calculator                                                    | shop
GET  /calculator/{name}                                             | shop
POST /calculator/{name}                                             | shop
GET  /api/v1/work                                                 | signed in
GET  /api/v1/work/{name}                                          | signed in
POST /api/v1/work/{name}                                          | signed in
GET  /api/v1/curing                                               | shop
POST /api/v1/soaks                                                | shop
POST /api/v1/soaks/end                                            | shop
GET  /api/v1/crushings/queue                                      | shop
POST /api/v1/press-sessions                                       | shop
POST /api/v1/press-sessions/{press_session_id}/close              | shop
GET  /api/v1/blocks/{block_id}                                    | shop
POST /api/v1/blocks/{block_id}/crushings                          | shop
POST /api/v1/crushings/{crushing_id}/corrections                  | shop
POST /api/v1/crushings/{crushing_id}/withdrawals                  | shop
GET  /api/v1/invoice-lines                                        | owner
GET  /api/v1/jobs/{job_id}/invoice                                | owner
POST /api/v1/jobs/{job_id}/invoice                                | owner
POST /api/v1/jobs/{job_id}/invoice/{line_id}/remove               | owner
POST /api/v1/jobs/{job_id}/invoice/paid                           | owner
POST /api/v1/jobs/{job_id}/invoice/not-paid                       | owner
POST /api/v1/requests                                             | customers
GET  /api/v1/jobs/{job_id}/offer                                  | own
POST /api/v1/jobs/{job_id}/offer                                  | owner
POST /api/v1/jobs/{job_id}/offer/accept                           | signed in
POST /api/v1/jobs/{job_id}/offer/decline                          | signed in
POST /api/v1/jobs/{job_id}/offer/start                            | owner
GET  /api/v1/readings                                             | owner
GET  /api/v1/jobs/{job_id}/readings                               | shop
GET  /api/v1/results/{issued_id}/readings                         | own
GET  /api/v1/imports                                              | owner
GET  /api/v1/imports/{file_id}/readings                           | owner
GET  /api/v1/overview                                             | shop
GET  /api/v1/customers/{customer_id}/soils                        | shop
GET  /api/v1/jobs/{job_id}/results                                | shop
POST /api/v1/jobs/{job_id}/results                                | owner
GET  /api/v1/results/{issued_id}                                  | own
POST /api/v1/results/{issued_id}/withdraw                         | owner
POST /api/v1/results/{issued_id}/shares                           | sharers
POST /api/v1/shares/{link_id}/end                                 | sharers
GET  /api/v1/customers                                            | shop
POST /api/v1/customers                                            | shop
GET  /api/v1/customers/{customer_id}                              | shop
GET  /api/v1/jobs                                                 | signed in
POST /api/v1/jobs                                                 | shop
GET  /api/v1/jobs/{job_id}                                        | own
GET  /api/v1/jobs/{job_id}/intake                                 | shop
POST /api/v1/jobs/{job_id}/corrections                            | shop
POST /api/v1/jobs/{job_id}/codes                               | shop
POST /api/v1/jobs/{job_id}/close                                  | shop
POST /api/v1/jobs/{job_id}/open-again                             | shop
POST /api/v1/soils                                                | shop
GET  /api/v1/sacks/{receipt_id}                                   | shop
POST /api/v1/sacks/{receipt_id}/cans                              | shop
GET  /api/v1/soils/{material_id}                                  | shop
POST /api/v1/soils/{material_id}/sieves                           | shop
POST /api/v1/soils/{material_id}/flow                             | shop
POST /api/v1/soils/{material_id}/threads                          | shop
POST /api/v1/soils/{material_id}/shrinkage                        | shop
POST /api/v1/soils/{material_id}/hydrometer                       | shop
POST /api/v1/soils/{material_id}/jar                              | shop
POST /api/v1/soils/{material_id}/bulk                             | shop
POST /api/v1/soils/{material_id}/signs                            | shop
POST /api/v1/sacks/{receipt_id}/corrections                       | shop
POST /api/v1/sacks/{receipt_id}/preparation                       | shop
POST /api/v1/sacks/cans/{can_id}/corrections                      | shop
POST /api/v1/sacks/cans/{can_id}/exclude                            | shop
POST /api/v1/soils/tests/{test_id}/exclude                          | shop
POST /api/v1/sacks/{receipt_id}/photos                            | shop
POST /api/v1/blocks/{block_id}/photos                             | shop
POST /api/v1/jobs/{job_id}/photos                                 | shop
GET  /api/v1/sacks/{receipt_id}/photos                            | shop
GET  /api/v1/blocks/{block_id}/photos                             | shop
GET  /api/v1/jobs/{job_id}/photos                                 | own
GET  /api/v1/photos/{photo_id}                                    | own
POST /api/v1/photos/{photo_id}/shown                              | owner
POST /api/v1/photos/{photo_id}/remove                             | shop
GET  /api/v1/soil-limits                                                | shop
POST /api/v1/soil-limits                                                | owner
POST /api/v1/soil-limits/{own_id}/end                                   | owner
GET  /api/v1/jobs/{job_id}/recipes                                | shop
POST /api/v1/jobs/{job_id}/recipes                                | shop
POST /api/v1/recipes/{recipe_id}/change                           | shop
POST /api/v1/jobs/{job_id}/recipes/{recipe_id}/replace            | shop
POST /api/v1/recipes/{recipe_id}/drop                             | shop
GET  /api/v1/jobs/{job_id}/blend                                  | shop
GET  /api/v1/jobs/{job_id}/moisture-trial                         | shop
POST /api/v1/jobs/{job_id}/moisture-trial                         | shop
POST /api/v1/moisture-trial/{trial_id}/exclude                      | shop
GET  /api/v1/recipes/{recipe_id}/site                             | shop
POST /api/v1/recipes/{recipe_id}/site                             | shop
GET  /api/v1/presses                                              | shop
GET  /api/v1/jobs/{job_id}/batches                                | shop
POST /api/v1/recipes/{recipe_id}/batches                          | shop
GET  /api/v1/batches/{batch_id}                                   | shop
POST /api/v1/batches/{batch_id}/cancel                            | shop
POST /api/v1/batches/{batch_id}/weighings                         | shop
POST /api/v1/batches/{batch_id}/corrections                       | shop
POST /api/v1/batches/{batch_id}/cans                              | shop
POST /api/v1/batches/cans/{can_id}/exclude                          | shop
POST /api/v1/batches/{batch_id}/test-charges                      | shop
POST /api/v1/batches/{batch_id}/blocks                            | shop
POST /api/v1/blocks/{block_id}/pressing-corrections               | shop
POST /api/v1/blocks/{block_id}/losses                             | shop
GET  /api/v1/blocks/{block_id}/tests                              | shop
POST /api/v1/blocks/{block_id}/tests/bending                      | shop
POST /api/v1/blocks/{block_id}/tests/bending/{reading_id}/corrections| shop
POST /api/v1/blocks/{block_id}/tests/absorption                   | shop
POST /api/v1/blocks/{block_id}/tests/absorption/{reading_id}/corrections| shop
POST /api/v1/blocks/{block_id}/tests/erosion                      | shop
POST /api/v1/blocks/{block_id}/tests/erosion/{reading_id}/corrections| shop
POST /api/v1/blocks/{block_id}/tests/cycles                       | shop
POST /api/v1/blocks/{block_id}/tests/cycles/{reading_id}/corrections| shop
POST /api/v1/blocks/{block_id}/tests/absorption/after             | shop
POST /api/v1/blocks/{block_id}/tests/{test}/{reading_id}/exclude    | shop
GET  /health/live                                                 | anyone
GET  /health/ready                                                | anyone
GET  /metrics                                                     | monitor
GET  /api/v1/openapi.json                                         | anyone
"""


def rights() -> dict[str, str]:
    """Return the right of every address, by its method and path."""
    lines = (line.rsplit("|", 1) for line in TABLE.strip().splitlines())
    return {" ".join(address.split()): right.strip() for address, right in lines}
