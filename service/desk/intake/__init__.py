"""Intake: jobs, sacks, cans and tests of soils, from the enquiry to what is known of the soil."""
