"""What the published values are from, and where the documentation explains what is compared with them.

The order is that of the page `docs/agreement.md`: a heading for each topic, one below it for each source.
"""

from __future__ import annotations

from dataclasses import dataclass

TOPICS = {
    "properties": "Water itself",
    "conductivity": "Conductivity",
    "carbonate": "Carbonate and pH",
    "scaling": "Scale",
    "osmotic": "Osmotic pressure",
    "analysis": "Water analysis",
    "membranes": "Membranes: flux, polarisation, elements",
    "measured": "Membranes: one measured element",
    "temperature": "Membranes: temperature",
    "ions": "Membranes: ions",
    "hydraulics": "Tubes, cartridges, valves",
    "resin": "Resin",
    "climate": "Mains temperature",
}


@dataclass(frozen=True)
class Source:
    """A heading of the page, the full reference, and what to know of it and of the tolerances."""

    topic: str
    title: str
    reference: str
    remark: str = ""


SOURCES = {
    # ---- water itself ----
    "iapws": Source(
        "properties",
        "IAPWS: density, viscosity, permittivity",
        "IAPWS-95 and IAPWS R12-08 at 101.325 kPa, through a public implementation.",
        "Our density and viscosity are shorter equations, stated to 0.003 kg/m³ and 0.003 %; the viscosities are "
        "printed to four digits. The verification point of R12-08, table 4, is 998 kg/m³ at 298.15 K; at water's own "
        "997.05 it is the same within 0.05 %.",
    ),
    "diffusivity": Source(
        "properties",
        "Diffusivity from ionic conductivity",
        "Nernst–Einstein, D = RTλ/(F²|z|), and Nernst–Hartley for a salt, with λ of the CRC Handbook (read).",
        "Over temperature D·µ/T is taken as constant. That is an assumption: 0.2 % is the printed digits and says "
        "nothing about nature, which may be 5 % away.",
    ),
    # ---- conductivity ----
    "crc-salts": Source(
        "conductivity",
        "CRC Handbook: salts at 25 °C",
        "CRC Handbook of Chemistry and Physics, 97th ed., Equivalent conductivity of electrolytes in aqueous solution"
        " (Vanýsek); read in a copy of the table.",
        "The table is good to 0.1 %; the rest is what one concentration law is asked for. The law was fitted to these"
        " two salts, so that agreement shows the fit and not a prediction.",
    ),
    "crc-kcl": Source(
        "conductivity",
        "CRC Handbook: potassium chloride standards from 0 to 30 °C",
        "CRC Handbook, Standard KCl solutions for calibrating conductivity cells (Wu, Koch & Pratt, J. Res. NIST 96, "
        "191, 1991; Pratt et al., Pure Appl. Chem. 73, 1783, 2001); read in a copy of the table.",
        "Stated uncertainty 0.03 %. 0.8 % is what one exponent for each ion can do; the exponents of K and Cl were "
        "fitted to this table. The solution's volume uses 27 mL/mol for KCl (from memory).",
    ),
    "kcl-weak": Source(
        "conductivity",
        "A weak potassium chloride standard",
        "KCl 0.001 mol/L in a laboratory meter's manual; three to four digits, read.",
    ),
    "epa-120-1": Source(
        "conductivity",
        "US EPA Method 120.1",
        "US EPA Method 120.1 (rev. 1982), calibration of the cell with KCl 0.01 mol/L; read in a copy.",
        "This older convention and the later 1412 µS/cm are 0.1 % apart.",
    ),
    "crc-ions": Source(
        "conductivity",
        "CRC Handbook: ionic conductivity at infinite dilution",
        "CRC Handbook, Ionic conductivity and diffusion at infinite dilution (Vanýsek), per equivalent; read twice.",
        "Our constants are these, so they must be exact.",
    ),
    "onsager": Source(
        "conductivity",
        "Onsager's limiting law",
        "Λ = Λ° − (0.2289 Λ° + 60.58)√c; its constants from memory, the arithmetic reproduced.",
    ),
    "pure-water": Source(
        "conductivity",
        "Pure water",
        "PHREEQC 3.8.6 with phreeqc.dat, reproduced. 0.055 µS/cm at 25 °C (18.2 MΩ·cm) stands on several public pages"
        " (read); Light et al., Electrochem. Solid-State Lett. 8, E16, 2005, have 0.05501 (from memory).",
        "The temperature laws of H and OH were fitted to pure water.",
    ),
    "air": Source(
        "conductivity",
        "Water under air of 420 ppm carbon dioxide",
        "PHREEQC 3.8.6 with phreeqc.dat, reproduced; by hand from the constants of Plummer & Busenberg 0.992 µS/cm "
        "and pH 5.598 at 25 °C.",
    ),
    "iso-7888": Source(
        "conductivity",
        "ISO 7888: natural water from 0 to 35 °C",
        "ISO 7888:1985, table of the factor to 25 °C, as in a bench meter's manual; read.",
        "Three decimals are printed. The factor at 10.5 °C is the mean of its neighbours. The two natural waters are "
        "made up: the standard describes ground and surface waters as a whole. The temperature laws of Ca, HCO3 and "
        "SO4 were fitted to this table.",
    ),
    "meter": Source(
        "conductivity",
        "Linear compensation of a handheld meter",
        "Arithmetic on 2 % for each kelvin from 25 °C, and on pure water of 10 °C (0.0230 µS/cm).",
    ),
    "phreeqc-conductivity": Source(
        "conductivity",
        "PHREEQC: conductivity of a hard water and of sodium chloride",
        "PHREEQC 3.8.6 with phreeqc.dat at 25 °C.",
        "The engine gives sulphate in mixed waters more than its limiting conductivity allows (without sulphate the "
        "two agree within 0.2 %), hence 3.5 %. Sodium chloride by mass: the CRC Handbook is within 0.4 % of it.",
    ),
    "rivers": Source(
        "conductivity",
        "River waters of the world",
        "Pawlowicz, Limnol. Oceanogr. Methods 6, 489, 2008: ionic salinity over conductivity; abstract read.",
        "The two natural waters are made up.",
    ),
    # ---- carbonate ----
    "plummer-busenberg": Source(
        "carbonate",
        "Plummer & Busenberg 1982",
        "Plummer & Busenberg, Geochim. Cosmochim. Acta 46, 1011, 1982: equations and stated uncertainties at 25 °C "
        "read in the abstract; the table reproduced from the equations.",
    ),
    "carbonate-by-hand": Source(
        "carbonate",
        "By hand from Plummer & Busenberg's constants",
        "pH under air, and calcite's index and carbon dioxide with Davies' activities (0.509 and 0.3 from memory) and"
        " the two pairs of calcium.",
        "Index ±0.03: ±0.020 stated for calcite, 0.01 between laws of activity. Carbon dioxide ±1.5 %: 0.006 in log "
        "γ, by the same laws.",
    ),
    "iapws-kw": Source(
        "carbonate",
        "IAPWS R11-07: ion product of water",
        "IAPWS R11-07 at water's density under 0.1 MPa, through a public implementation; the last printed digit.",
    ),
    "phreeqc-kw": Source(
        "carbonate",
        "PHREEQC: pH of pure water",
        "PHREEQC 3.8.6; its own fit of the ion product differs from IAPWS by up to 0.003.",
    ),
    "debye-huckel": Source(
        "carbonate",
        "Debye–Hückel slope",
        "A at 25 °C, as in every textbook (from memory).",
    ),
    "seawater": Source(
        "carbonate",
        "PHREEQC's seawater example",
        "PHREEQC 3 manual, example 1: input, and the printed output of an older phreeqc.dat, read. Gypsum is held "
        "against today's phreeqc.dat, whose sulphate pairs have changed (printed then: −0.64). Conductivity: "
        "practical salinity 35 at 25 °C.",
        "0.05 covers the differences of the databases. Seawater is outside this program's range; it is here since it "
        "is printed.",
    ),
    # ---- scale ----
    "lebedev": Source(
        "scaling",
        "Lebedev & Kosorukov 2017: gypsum",
        "Lebedev & Kosorukov, Geochem. Int. 55, 205, 2017: range of the literature at 25 °C; abstract read.",
    ),
    "gypsum-databases": Source(
        "scaling",
        "PHREEQC: gypsum",
        "PHREEQC 3.8.6 with phreeqc.dat and, at 25 °C, with wateq4f.dat.",
        "As an index, 0.02 is what log Ksp −4.588 of Bennett & Adams, Soil Sci. Soc. Am. J. 36, 288, 1972 (abstract "
        "read) may be off by, and 0.01 more for the other database's ion pairs.",
    ),
    "fournier": Source(
        "scaling",
        "Fournier: amorphous silica",
        "log S(mg/kg) = −731/T + 4.52 (lecture text, read; values reproduced). An index is the logarithm of a ratio: "
        "2 % are 0.0086.",
    ),
    "silica-25": Source(
        "scaling",
        "Amorphous silica at 25 °C",
        "Morey, Fournier & Rowe 1964: 115 mg/kg; Marshall & Warakomski 1980: 131 (abstracts read; authors from "
        "memory).",
        "5 % as an index are 0.021.",
    ),
    "barite": Source(
        "scaling",
        "PHREEQC: barite by the careful database",
        "PHREEQC 3.8.6 with wateq4f.dat.",
        "phreeqc.dat dissolves 9.69 to 12.44 µmol/kg, which warns too late in the cold. 5 % for other ion pairs.",
    ),
    "langelier": Source(
        "scaling",
        "Langelier's index: a worked case",
        "A common example: solids 320, calcium 150 and alkalinity 34 mg/L as CaCO3, pH 7.5. A and B read, inputs from"
        " memory, arithmetic reproduced.",
    ),
    "phreeqc-hard": Source(
        "scaling",
        "PHREEQC: indices of a hard water",
        "PHREEQC 3.8.6 with phreeqc.dat at 10 °C, also two, three and four times concentrated in a closed system.",
        "The program asks the same engine, so that this shows that it is asked rightly.",
    ),
    # ---- osmotic pressure ----
    "robinson-stokes": Source(
        "osmotic",
        "Robinson & Stokes: osmotic coefficient of sodium chloride",
        "Robinson & Stokes, Electrolyte Solutions, app. 8.10, from memory; pitzer.dat of PHREEQC agrees within 0.11 %"
        " (reproduced) and gives the two weakest.",
    ),
    "pitzer": Source(
        "osmotic",
        "PHREEQC's Pitzer model: osmotic pressure",
        "−RT ln a_w/V_w with pitzer.dat and IAPWS density. The hard water also by sit.dat and by phreeqc.dat's "
        "activity of water: the range spans what they give.",
        "The solution's volume is taken as its water's: 0.2 % at 0.1 mol/kg.",
    ),
    "teos-10": Source(
        "osmotic",
        "TEOS-10: dilute sea salt",
        "TEOS-10 at 10 °C by equal chemical potential; below its own range, stated use 1 %. Ion shares and, for whole"
        " answers, the solution's density from memory.",
        "2 and 3 % where the solution's volume is taken as its water's: the pairs of Mg and SO4 are left out of the "
        "osmotic coefficient.",
    ),
    "d4516-osmotic": Source(
        "osmotic",
        "ASTM D4516: osmotic pressure",
        "0.2654 C T/(1000 − C/1000) kPa for NaCl; the constant from memory, 2 %.",
    ),
    # ---- analysis ----
    "atomic-masses": Source(
        "analysis",
        "Arithmetic on atomic masses",
        "Hardness 2.497 Ca + 4.118 Mg and alkalinity 1.219 HCO3, as CaCO3 (use in Standard Methods 2340 B from "
        "memory); bicarbonate dried to carbonate, 0.4917 (Standard Methods 1030 E, from memory). Ca 30.46 and Mg 3.62"
        " mg/L are medians of UK cities (Michael & Somani, J. Clin. Med. 11, 5118, 2022, read) and not one water.",
    ),
    "crc-masses": Source(
        "analysis",
        "CRC Handbook: molar masses",
        "CRC Handbook, to the digits used; from memory.",
    ),
    # ---- membranes ----
    "geankoplis": Source(
        "membranes",
        "Geankoplis: three worked examples",
        "Geankoplis, Transport Processes and Separation Process Principles, ex. 13.9-1 (a public transcription read; "
        "4.56 atm measured from memory), 13.10-1 and 13.10-2 (inputs from memory, self-consistent, reproduced).",
        "The permeances found there are put in; its fluxes, rejection and product must come out. 1 − C_p/C_f is good "
        "to the printed digit.",
    ),
    "d7": Source(
        "membranes",
        "A textbook problem of polarisation",
        "Membrane chapter, problem D7, of a chemical-engineering separations text: 0.1 N NaCl, 4.9 atm, 40 atm, "
        "polarisation modulus 1 and 3 (read; reproduced as 9.402e-7 and 1.304e-6 g/(cm² s atm)). With its 4 % of "
        "leakage counted 9.35e-7 and 1.294e-6, salt 1.375e-6 and 4.46e-7 cm/s (reproduced).",
        "The published permeability must give the flux back.",
    ),
    "film": Source(
        "membranes",
        "Film theory and solution-diffusion in closed form",
        "exp(J/k); C_p/C_b = B e^(J/k)/(J + B e^(J/k)); J = A (ΔP − Δπ) with the osmotic pressure at the wall. "
        "Algebra, as in any text.",
    ),
    "feed-mean": Source(
        "membranes",
        "Mean strength along an element",
        "ln[1/(1 − Y)]/Y for total rejection (ASTM D4516, from memory; derived) and [1 − (1 − Y)^(1 − R)]/[Y(1 − R)] "
        "for constant rejection R; reproduced.",
        "Four printed decimals. In whole answers 1 %, since the film adds 0.8 %. The other means in use are far off: "
        "2.164 and 2.500 at Y = 0.75.",
    ),
    "schock-miquel": Source(
        "membranes",
        "Schock & Miquel 1987: feed channel with spacer",
        "G. Schock & A. Miquel, Desalination 64, 339, 1987: Sh = 0.065 Re^0.875 Sc^0.25, λ = 6.23 Re^−0.3; formulas "
        "read as quoted in public sources, the paper not seen. The numbers are arithmetic on them (reproduced), with "
        "0.71 mm, porosity 0.89 and an older formula of viscosity.",
        "Stated range about 100 < Re < 1000 (from memory). In small plants Re is often 40 to 130, which is below it.",
    ),
    "vector": Source(
        "membranes",
        "One element, marched in 400 cells",
        "Not published: our own arithmetic with another scheme. 7.6 m², 4.0 bar, 800 L/h of 350 mg/L NaCl at 25 °C, "
        "promoter correlation alone, osmotic pressure of ASTM D4516.",
        "Its mesh error is about an eighth of the stated 50-cell error (0.08 % in flow, 0.6 % in salt).",
    ),
    "ratings": Source(
        "membranes",
        "Typical ratings of common sizes",
        "Rating points typical of data sheets (from memory); permeances reproduced from them with another "
        "one-dimensional model.",
        "±5 % on A and ±10 % on B is how far models of polarisation differ. The element must also give its rating "
        "back.",
    ),
    "blend": Source(
        "membranes",
        "US Army TM 5-813-8: a blending problem",
        "US Army TM 5-813-8 (UFC 3-230-12A), sample problem: raw 800, treated 303, wanted 500 mg/L, 39.6 % raw; read,"
        " reproduced.",
        "0.5 mg/L is the rounding of 39.6 %. The salt is one that loses nothing on drying.",
    ),
    # ---- one measured element ----
    "sitterley": Source(
        "measured",
        "Sitterley, Jenne, Yu & Cath: a 2.5 × 40 inch element",
        "K. A. Sitterley, S. D. Jenne, Y.-H. Yu, T. Y. Cath, Performance of reverse osmosis membrane with large feed "
        "pressure fluctuations from simulated wave driven desalination system, draft manuscript with open one-minute "
        "data: read, averages reproduced. Permeances by another model of the same channel.",
        "**A high-pressure element at 14 to 46 bar on salt water.** It shows that the equations hold together; it "
        "does not prove the model at 3 bar on tap water, where osmotic pressure is small and the channel runs slowly."
        " The spacer is not published: 0.71 mm is assumed, 0.66 to 0.86 mm are tried. Feed strength is nominal. For "
        "comparison, Ben Boudinar, Hanbury & Avlonitis, Desalination 86, 273, 1992 (abstract read) claim 10 % in flow"
        " and 15 % in salt for a 2.5 inch seawater module.",
    ),
    # ---- temperature ----
    "temperature-table": Source(
        "temperature",
        "A published table of correction factors",
        "Thirty rows, 5 to 34 °C (read); exp[2700 (1/298 − 1/(273 + t))] gives all of them within 0.0015 (reproduced).",
    ),
    "temperature-two-branch": Source(
        "temperature",
        "The form with two activation energies",
        "exp[E (1/298 − 1/(273 + t))], 3020 K below 25 °C and 2640 K above, quoted from a technical manual; read "
        "twice, reproduced.",
        "It counts from 273 and 298 instead of 273.15 and 298.15: below 0.1 % here.",
    ),
    "temperature-forms": Source(
        "temperature",
        "Spread of the published forms",
        "1.03^(t − 25) (ASTM D4516, from memory), 1.028^(t − 25) (US Army TM 10-4610-309-14, table 3, read) and the "
        "form with two activation energies (read); reproduced.",
        "In the cold they part: 0.48 to 0.58 at 5 °C, 19 %. No one factor is right to better than about 10 % there. "
        "Ours is held against the middle of the three.",
    ),
    "army-tcf": Source(
        "temperature",
        "US Army TM 10-4610-309-14",
        "WP 0083, table 3; read.",
        "Another form than ours, 10 % above it at 41 °F. The band is what is known of permeances against temperature.",
    ),
    "three-per-cent": Source(
        "temperature",
        "About 3 % a degree",
        "A trade association's education text; read. Ours is 2.4 to 3.8 % from 5 to 30 °C.",
    ),
    "orifice-cold": Source(
        "temperature",
        "Recovery behind an orifice in the cold",
        "50 % at 25 °C and a pressure that is held, by the form with 3020 K; reproduced to three digits.",
    ),
    # ---- ions ----
    "sdem": Source(
        "ions",
        "Solution-diffusion-electromigration in closed form",
        "After Yaroshchuk, Bruening & Licon Bernal, J. Membr. Sci. 447, 463, 2013 (citation from memory): derived "
        "again and checked against numerical integration. Fluxes and permeances in L/(m² h), concentrations in "
        "mmol/L.",
        "Passage is product over wall. Above 1 the ion is stronger in the product than in the feed. The mixed feed is"
        " constructed; two integrators agreed to 1e-7.",
    ),
    "boron": Source(
        "ions",
        "Tu et al.: boron",
        "Tu et al., Environ. Sci. Technol.: boron held back at 5 and at 60 L/(m² h); abstract read.",
        "One permeance of 17.3 L/(m² h) gives both within two points.",
    ),
    "sea-salt": Source(
        "ions",
        "Sitterley, Jenne, Yu & Cath: sea salt on their element",
        "The same draft and high-pressure element: sea salt at 15 to 25 L/(m² h), 20 °C; read. Composition of sea "
        "salt from memory.",
        "The level is set on chloride (99.5 %); the rest must follow. Boron, 85.8 ± 2.5 %, is asked for to a factor "
        "of 1.5 in passage.",
    ),
    "co2-passes": Source(
        "ions",
        "Carbon dioxide is not held back",
        "The same in feed, product and concentrate: a glossary of water chemistry and two general texts, read.",
        "No number is given there; 5 % is ours.",
    ),
    # ---- hydraulics ----
    "colebrook": Source(
        "hydraulics",
        "Colebrook's equation",
        "fluids 1.3.1 at Re 1e5 and roughness 1e-4 of the bore.",
    ),
    "crane": Source(
        "hydraulics",
        "Crane TP-410M, example 7.1: smooth plastic pipe",
        "Crane TP-410M, example 7.1, as in the documentation of fluids (read): water of 30 °C, 200 L/min in 50 mm "
        "nominal, bore 52.48 mm.",
    ),
    "tubes": Source(
        "hydraulics",
        "Small tubes at 10 °C",
        "fluids 1.3.1 with a wall of 1.5 µm; the laminar one by Hagen–Poiseuille.",
        "5 %, and 30 % for the one flow that is neither laminar nor turbulent.",
    ),
    "cartridge": Source(
        "hydraulics",
        "A clean cartridge",
        "A cartridge maker's page (read): 0.73 psi at 6.6 gallons a minute, about 1 psi at 8.8; in proportion 0.973 "
        "(reproduced). A filter maker: clean loss is in proportion to flow and viscosity (read).",
    ),
    "shut-off": Source(
        "hydraulics",
        "Automatic shut-off",
        "Closes at about two thirds of line pressure (a trade article, read): 2.67 bar of 4, a net 1.33 bar "
        "(reproduced).",
    ),
    # ---- resin ----
    "michaud": Source(
        "resin",
        "Michaud 2011: capacity of resin",
        "Michaud, Defining ion exchange capacity, Water Conditioning & Purification, March 2011 (read): 1.95 eq/L "
        "hold 39 g of calcium; 1 eq/L is 21.87 kilograins a cubic foot.",
        "0.5 % for the source's 20 g/eq; 2 % where the front comes early or a cell is wide.",
    ),
    "mixed-bed": Source(
        "resin",
        "Capacity of mixed bed from its two resins",
        "Two parts of cation to three of anion resin: DOE-HDBK-1015/2-93 (read). Cation resin 1.8–2.0 eq/L: Water and"
        " Wastewater Engineering p. 8-5 (read). Anion resin 1.0–1.4 eq/L (from memory).",
    ),
    "weak-acids": Source(
        "resin",
        "Load of weak acids",
        "As CaCO3: CO2 × 1.137, SiO2 × 0.833; arithmetic on molar masses.",
    ),
    "thomas": Source(
        "resin",
        "Columns after Thomas and Yoon–Nelson",
        "J. Chem. Eng. Process Technol. 5:200, table 2, rows 1, 2 and 4 (read).",
        "A bed breaks through half where what it holds has come in. 2.5 % is how well the two fits of the source "
        "agree.",
    ),
    "phreeqc-column": Source(
        "resin",
        "PHREEQC: a column of mixed resin",
        "PHREEQC 3.8.6 with phreeqc.dat at 25 °C: ADVECTION through cells with a cation and an anion exchanger "
        "(Gaines–Thomas) of our capacities and selectivities, 7 L of bed.",
        "The selectivities are ours, so this holds the march, the weak acids, pH and the reading against a full "
        "speciation, not the resin against nature. 0.5 to 1 % for a portion's width, activities and ion pairs; 3 % for "
        "the number of cells.",
    ),
    "throughput": Source(
        "resin",
        "The rule of throughput",
        "24 000 grains a cubic foot over 20 grains a gallon are 1200 gallons (a trade article, 2017, read).",
        "2 %, by which the front comes early.",
    ),
    # ---- climate ----
    "burch-christensen": Source(
        "climate",
        "Burch & Christensen 2007: mains temperature",
        "Burch & Christensen, NREL, 2007: constants read in NREL's own code; values reproduced from the equation (no "
        "worked example is printed). Mean air 10.5 °C, spread of monthly means 13.0 °C.",
    ),
    "sap": Source(
        "climate",
        "SAP 10.2, table J1: cold water in the United Kingdom",
        "SAP 10.2 (BRE), table J1, by month; read in two public copies. Day-weighted mean reproduced.",
        "Smooth days must keep the mean of each month; the coldest and the warmest day pass it a little. Flow follows "
        "the published factors of 2700 K; 0.5 % for the little salt.",
    ),
}

# Where the documentation explains what is compared: page and anchor in docs/.
MODELS = {
    "density": "models/water-and-carbonate.md#density-and-viscosity",
    "viscosity": "models/water-and-carbonate.md#density-and-viscosity",
    "permittivity": "models/water-and-carbonate.md#activity-coefficients",
    "molar masses": "models/water-and-carbonate.md#what-is-conserved",
    "hardness": "models/water-and-carbonate.md#what-is-conserved",
    "alkalinity": "models/water-and-carbonate.md#what-is-conserved",
    "residue": "models/water-and-carbonate.md#left-on-drying",
    "carbonate constants": "models/water-and-carbonate.md#equilibrium-constants",
    "activity": "models/water-and-carbonate.md#activity-coefficients",
    "carbonate equilibrium": "models/water-and-carbonate.md#ph-from-alkalinity-and-carbon",
    "pH": "models/water-and-carbonate.md#ph-from-alkalinity-and-carbon",
    "carbon dioxide of the air": "models/water-and-carbonate.md#ph-from-alkalinity-and-carbon",
    "conductivity of ions": "models/conductivity-and-meter.md#conductivity-from-the-ions",
    "pure water": "models/conductivity-and-meter.md#conductivity-from-the-ions",
    "conductivity and temperature": "models/conductivity-and-meter.md#temperature",
    "temperature compensation": "models/conductivity-and-meter.md#what-a-meter-shows",
    "reading of a meter": "models/conductivity-and-meter.md#what-a-meter-shows",
    "diffusivity": "models/conductivity-and-meter.md#diffusivity-from-conductivity",
    "osmotic coefficient": "models/osmotic-pressure.md#a-mixed-water",
    "osmotic pressure": "models/osmotic-pressure.md#a-mixed-water",
    "saturation index": "models/scaling.md#saturation-index",
    "barite": "models/scaling.md#saturation-index",
    "Langelier's index": "models/scaling.md#langelier-index",
    "water flux": "models/membrane-element.md#water-flux",
    "wall concentration": "models/membrane-element.md#concentration-at-the-wall",
    "salt flux": "models/membrane-element.md#salt-flux",
    "march along the element": "models/membrane-element.md#along-the-channel",
    "temperature of the permeances": "models/membrane-element.md#temperature",
    "shape of the channel": "models/spacer-channel.md#geometry",
    "film coefficient": "models/spacer-channel.md#mass-transfer",
    "loss in the channel": "models/spacer-channel.md#friction",
    "permeances from a rating": "models/rating-to-permeances.md#two-equations-two-unknowns",
    "passage of ions": "models/ion-transport.md#through-the-membrane",
    "uncharged solutes": "models/ion-transport.md#through-the-membrane",
    "relative permeances": "models/ion-transport.md#permeances-of-the-ions",
    "carbon dioxide in the product": "models/ion-transport.md#permeances-of-the-ions",
    "tubes": "models/hydraulics.md#tube",
    "restrictor": "models/hydraulics.md#restrictor",
    "clean cartridge": "models/hydraulics.md#cartridge-softener-resin-bed",
    "shut-off": "models/shut-off-and-product-line.md#where-the-shut-off-closes",
    "blending": "models/shut-off-and-product-line.md#blend",
    "capacity of resin": "models/resin.md#capacity",
    "load of the resin": "models/resin.md#exchange-cells",
    "breakthrough": "models/resin.md#limit",
    "mains temperature from the air": "models/climate-and-year.md#water-temperature",
    "mains temperature by month": "models/climate-and-year.md#water-temperature",
}
