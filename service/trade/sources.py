"""Every published source once: a docstring's Source section and a data file's row name a key of this list."""

from dataclasses import dataclass
from typing import Literal

Standing = Literal["seen", "second-hand", "memory", "definition", "computed"]


@dataclass(frozen=True)
class Source:
    """One source: who says it, where it stands, and how its text was read for this service."""

    key: str
    body: str
    title: str
    edition: str
    clause: str
    standing: Standing

    @property
    def named(self) -> str:
        """Return who says it, the title and the year, so that a reader can find it."""
        return ", ".join(part for part in (self.body, self.title, self.edition) if part)


ALL = (
    # Mass, water and money
    Source("mass-balance", "", "Conservation of mass", "", "", "definition"),
    Source("money", "", "Price times mass, in exact decimals", "", "", "definition"),
    Source("geometry", "", "Lengths, areas and volumes", "", "", "definition"),
    Source("age", "", "Age in days of 24 hours from pressing to crushing", "", "", "definition"),
    Source("self-weight", "", "Density times gravity times height, g = 9.80665 m/s2", "", "", "definition"),
    # Press
    Source("hydraulic-ram", "", "Force is pressure times ram area, less friction", "", "", "definition"),
    Source("stress", "", "Stress is force over loaded area", "", "", "definition"),
    Source(
        "gum-6.2",
        "JCGM",
        "100:2008 Guide to the expression of uncertainty in measurement",
        "2008",
        "6.2.1, U = k u",
        "definition",
    ),
    Source("gum-h3", "JCGM", "100:2008 Guide to the expression of uncertainty in measurement", "2008", "H.3", "seen"),
    # Soil
    Source("d6913", "ASTM", "D6913 Particle-size distribution by sieve analysis", "2017", "share passing", "memory"),
    Source("d4318", "ASTM", "D4318 Liquid limit, plastic limit and plasticity index", "2017", "A, B, 16", "memory"),
    Source("d2487", "ASTM", "D2487 Unified soil classification", "2017", "A-line, U-line, Cu, Cc", "second-hand"),
    Source(
        "d2487-names",
        "ASTM",
        "D2487 Unified soil classification",
        "2017",
        "11 to 13, Table 1: groups, names, the 15 % and 30 % rules, organic fines",
        "memory",
    ),
    Source("shrinkage-box", "VITA", "Linear shrinkage in a box of 600 x 40 x 40 mm", "1975", "", "second-hand"),
    Source("d2216", "ASTM", "D2216 Water content of soil by mass", "2019", "definition of water content", "memory"),
    # Statistics
    Source(
        "iso-16269-6", "ISO", "16269-6 Statistical tolerance intervals", "2014", "one-sided, sigma unknown", "computed"
    ),
    Source(
        "en-1990-d1", "CEN", "EN 1990 Basis of structural design", "2002", "Annex D, Table D1 and D7.2", "second-hand"
    ),
    Source(
        "nzs-4298",
        "Standards New Zealand",
        "NZS 4298 Materials and workmanship for earth buildings",
        "1998",
        "characteristic value of five specimens",
        "memory",
    ),
    Source("grubbs", "ASTM", "E178 Dealing with outlying observations", "2016", "two-sided Grubbs test", "computed"),
    Source("computed-here", "", "Worked from a definition", "", "", "definition"),
    Source(
        "sobol",
        "Joe and Kuo",
        "Sobol sequences with better two-dimensional projections, SIAM J. Sci. Comput. 30, 2635",
        "2008",
        "direction numbers, as a general-purpose library has them",
        "second-hand",
    ),
    # Shape of the specimen
    Source("krefeld", "Krefeld", "Factors for height over thickness of masonry units", "1938", "h/t table", "memory"),
    Source(
        "heathcote-jankulovski",
        "Heathcote and Jankulovski",
        "Factors for height over thickness of earth blocks",
        "1992",
        "h/t table",
        "memory",
    ),
    Source("en-772-1", "CEN", "EN 772-1 Compressive strength of masonry units", "2011", "Annex A", "second-hand"),
    Source("d1633", "ASTM", "D1633 Strength of molded soil-cement cylinders", "2017", "note on h/d 1.15", "memory"),
    # How fast a block is loaded
    Source(
        "en-772-1-rate", "CEN", "EN 772-1 Compressive strength of masonry units", "2011", "lowest rate", "second-hand"
    ),
    Source("is-3495-1", "BIS", "IS 3495-1 Compressive strength of bricks", "1992", "rate of loading", "second-hand"),
    Source("nbr-8492", "ABNT", "NBR 8492 Soil-cement brick, tests", "1984", "rate of loading", "memory"),
    Source("d1633-rate", "ASTM", "D1633 Strength of molded soil-cement cylinders", "2000", "rate of loading", "memory"),
    Source(
        "halved-block",
        "Proceedings of a conference on sustainable building",
        "Crushing pressed earth blocks as two halves bedded on each other",
        "2017",
        "3.1.2",
        "second-hand",
    ),
    Source(
        "780-cmr-2109.3.1.2.3",
        "Massachusetts",
        "International Building Code 2109.3.1 as printed in 780 CMR",
        "print of 780 CMR, undated",
        "2109.3.1.2.3",
        "seen",
    ),
    # Sedimentation
    Source("d7928", "ASTM", "D7928 Particle-size distribution by sedimentation", "2021", "calculation, 152H", "memory"),
    Source(
        "kell-1975", "Kell", "Density of liquid water, J. Chem. Eng. Data 20, 97", "1975", "fit 0 to 150 C", "memory"
    ),
    Source(
        "kestin-1978",
        "Kestin and others",
        "Viscosity of liquid water, J. Phys. Chem. Ref. Data 7, 941",
        "1978",
        "eq. 15",
        "memory",
    ),
    Source("jar", "", "Layers in a settling jar; common practice, no published source", "", "", "memory"),
    # Suitability and starting recipes
    Source(
        "soil-selection",
        "University thesis, author not noted",
        "Chapter on soil selection, after VITA 1975 and Webb",
        "undated",
        "window",
        "seen",
    ),
    Source("bru-1974", "BRU", "Clay window quoted in a thesis on soil selection", "1974", "", "second-hand"),
    Source(
        "kenya-housing",
        "State Department for Housing and Urban Development, Kenya",
        "Frequently asked questions, housingandurban.go.ke/faqs",
        "undated",
        "soil",
        "seen",
    ),
    Source(
        "extension-mix",
        "Extension note after VITA, author not named",
        "Earth blocks, simple mix target",
        "undated",
        "",
        "seen",
    ),
    Source("walker-1995", "Walker", "Strength of cement-stabilised soil blocks, CCC 17, 301", "1995", "", "memory"),
    Source("composition-handbook", "Houben and Guillaud", "Earth construction", "1994", "composition", "memory"),
    Source("shrinkage-bands", "VITA", "Cement to soil by the shrinkage box", "1975", "bands", "memory"),
    Source("qjeg-1986", "QJEG", "Stabilised compressed tropical soils, 19(4) 425", "1986", "abstract", "seen"),
    Source(
        "webb-lockwood-1987",
        "Webb and Lockwood",
        "Press and stabiliser by shrinkage, quoted in a thesis",
        "1987",
        "",
        "second-hand",
    ),
    Source(
        "lime-trade-body",
        "Lime trade body, quoted by Little and Nair",
        "Stabilization of subgrade soils and base materials, NCHRP 20-07",
        "2009",
        "plasticity index for lime",
        "second-hand",
    ),
    Source(
        "us-army-lime",
        "US Army engineers, quoted by Little and Nair",
        "Stabilization of subgrade soils and base materials, NCHRP 20-07",
        "2009",
        "plasticity index for lime",
        "second-hand",
    ),
    Source(
        "trr-1652", "Prusinski and Bhattacharja", "Portland cement in clay soils, TRR 1652", "1999", "abstract", "seen"
    ),
    Source(
        "stop-rule", "", "Rule of this service: a sign stops the work until somebody has tested", "", "", "definition"
    ),
    # Rules for strength, and the words for what they come to
    Source("strength-model", "", "Lognormal strength, censored readings, stated priors", "", "", "definition"),
    Source(
        "content-slope",
        "Davidson and others, compiled by Gajurel and others",
        "Strength of soil-cement by cement content, 16 soils: slope 1.1, 0.4 between soils, 0.10 about the line",
        "2020",
        "supplementary data; slopes fitted here",
        "second-hand",
    ),
    Source(
        "ep-gaussian",
        "Rasmussen and Williams",
        "Gaussian Processes for Machine Learning: expectation propagation",
        "2006",
        "3.6",
        "computed",
    ),
    Source("kronecker-lattice", "", "Multiples of a fixed irrational step, modulo 1", "", "", "definition"),
    Source("own-words", "", "Names and sentences of this service", "", "", "definition"),
    Source("sample-size", "NIST/SEMATECH", "e-Handbook of Statistical Methods", "2012", "7.2.2.2", "second-hand"),
    Source("own-rule", "", "Rules of this service, without a published source", "", "", "definition"),
    Source(
        "nmac-14.7.4",
        "New Mexico",
        "Earthen Building Materials Code, 14.7.4 NMAC",
        "2021, amended 14 July 2023",
        "14.7.4.23 E and J",
        "second-hand",
    ),
    Source(
        "nmac-14.7.4-adobe",
        "New Mexico",
        "Earthen Building Materials Code, 14.7.4 NMAC",
        "2021, amended 14 July 2023",
        "14.7.4.10 A and 14.7.4.11 D",
        "seen",
    ),
    Source(
        "780-cmr-2109.3.1",
        "Massachusetts",
        "International Building Code 2109.3.1 as printed in 780 CMR",
        "print of 780 CMR, undated",
        "2109.3.1.1",
        "seen",
    ),
    Source("xp-p13-901", "AFNOR", "XP P13-901 Compressed earth blocks", "2001", "class table", "memory"),
    Source("ars-670-683", "ARSO", "ARS 670 to 683 Compressed earth blocks", "1996", "category table", "memory"),
    Source("nbr-8491", "ABNT", "NBR 8491 Soil-cement brick", "2012", "limits", "memory"),
    Source("is-1725", "BIS", "IS 1725 Soil-based blocks", "1982", "class table", "memory"),
    Source("sls-1382-1", "SLSI", "SLS 1382-1 Compressed stabilized earth blocks", "2009", "grade table", "memory"),
    Source("une-41410", "AENOR", "UNE 41410 Compressed earth blocks", "2008", "class table", "memory"),
    Source("ks-1070", "KEBS", "KS 02-1070 Stabilized soil blocks", "as quoted in 2015", "limits", "second-hand"),
    Source(
        "soil-cement-handbook",
        "Portland Cement Association",
        "Soil-Cement Laboratory Handbook EB052, limits of loss for ASTM D559",
        "1992",
        "granular, silty and clayey soils",
        "memory",
    ),
    Source(
        "d559",
        "ASTM",
        "D559 Wetting and drying compacted soil-cement",
        "2015",
        "loss of mass after 12 cycles",
        "memory",
    ),
)

SOURCES: dict[str, Source] = {source.key: source for source in ALL}
