//! Analysis of variance of a crossed study, two ways with interaction, all effects random.

use super::CrossedTable;
use crate::numeric::{moments, quantile};

/// An interaction that chance exceeds more often than this is pooled with the repeatability
/// (measurement systems analysis reference manual, 4th edition, from memory).
const POOLED_ABOVE: f64 = 0.25;

/// One line of the table.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Source {
    /// Degrees of freedom.
    pub degrees_of_freedom: f64,
    /// Sum of squares, in the square of the values' unit.
    pub sum_of_squares: f64,
}

/// The whole table.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Anova {
    /// Between parts.
    pub parts: Source,
    /// Between operators.
    pub operators: Source,
    /// Operators who differ on one part otherwise than on another.
    pub interaction: Source,
    /// Between trials of one operator on one part.
    pub repeatability: Source,
    /// How many parts, operators and trials there are.
    sizes: [f64; 3],
}

/// Components of variance, in the square of the values' unit; one that comes out negative is 0.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Variances {
    /// Of one reading by one operator on one part.
    pub repeatability: f64,
    /// Between operators.
    pub operators: f64,
    /// Of the interaction; 0 where it was pooled.
    pub interaction: f64,
    /// Between parts.
    pub parts: f64,
    /// Degrees of freedom of the repeatability.
    pub repeatability_freedom: f64,
    /// Degrees of freedom of repeatability, operators and interaction together, by Satterthwaite.
    pub gauge_freedom: f64,
}

impl Source {
    /// The mean square.
    pub fn mean_square(&self) -> f64 {
        self.sum_of_squares / self.degrees_of_freedom
    }

    fn pooled(self, other: Self) -> Self {
        Self {
            degrees_of_freedom: self.degrees_of_freedom + other.degrees_of_freedom,
            sum_of_squares: self.sum_of_squares + other.sum_of_squares,
        }
    }
}

impl Anova {
    /// Takes the table apart. Everything is counted from the grand mean, so that values far from
    /// zero keep their digits.
    pub fn new(table: &CrossedTable) -> Self {
        let (parts, operators) = (table.parts.len(), table.operators.len());
        let trials = table.trials;
        let grand = moments::mean(&table.values).unwrap_or(0.0);
        let at = |part: usize, operator: usize| {
            let first = (part * operators + operator) * trials;
            &table.values[first..first + trials]
        };
        let cell = |part: usize, operator: usize| {
            at(part, operator)
                .iter()
                .map(|value| value - grand)
                .sum::<f64>()
                / trials as f64
        };
        let [p, o, r] = [parts, operators, trials].map(|count| count as f64);
        let part_mean = |part| {
            (0..operators)
                .map(|operator| cell(part, operator))
                .sum::<f64>()
                / o
        };
        let operator_mean = |operator| (0..parts).map(|part| cell(part, operator)).sum::<f64>() / p;
        let part_means: Vec<f64> = (0..parts).map(part_mean).collect();
        let operator_means: Vec<f64> = (0..operators).map(operator_mean).collect();
        let squares = |means: &[f64]| means.iter().map(|mean| mean * mean).sum::<f64>();
        let (mut interaction, mut repeatability) = (0.0, 0.0);
        for (part, part_mean) in part_means.iter().enumerate() {
            for (operator, operator_mean) in operator_means.iter().enumerate() {
                let both = part_mean + operator_mean;
                interaction += (cell(part, operator) - both).powi(2);
                repeatability += moments::sum_of_squares(at(part, operator)).unwrap_or(0.0);
            }
        }
        let source = |degrees_of_freedom, sum_of_squares| Source {
            degrees_of_freedom,
            sum_of_squares,
        };
        Self {
            parts: source(p - 1.0, o * r * squares(&part_means)),
            operators: source(o - 1.0, p * r * squares(&operator_means)),
            interaction: source((p - 1.0) * (o - 1.0), r * interaction),
            repeatability: source(p * o * (r - 1.0), repeatability),
            sizes: [p, o, r],
        }
    }

    /// The interaction's mean square over the repeatability's; nothing where nothing scatters.
    pub fn interaction_ratio(&self) -> Option<f64> {
        let ratio = self.interaction.mean_square() / self.repeatability.mean_square();
        ratio.is_finite().then_some(ratio)
    }

    /// How often chance alone gives a greater ratio.
    pub fn interaction_chance(&self) -> Option<f64> {
        quantile::fisher_above(
            self.interaction_ratio()?,
            self.interaction.degrees_of_freedom,
            self.repeatability.degrees_of_freedom,
        )
    }

    /// Whether the interaction is no more than chance, and is pooled with the repeatability.
    pub fn is_pooled(&self) -> bool {
        self.interaction_chance()
            .is_some_and(|chance| chance > POOLED_ABOVE)
    }

    /// The components of variance, with the interaction pooled where it is no more than chance.
    pub fn variances(&self) -> Variances {
        self.variances_if(self.is_pooled())
    }

    /// The components of variance, with the interaction pooled or not.
    pub fn variances_if(&self, pooled: bool) -> Variances {
        let [p, o, r] = self.sizes;
        let repeatability = if pooled {
            self.repeatability.pooled(self.interaction)
        } else {
            self.repeatability
        };
        // What a mean square of operators or parts holds beside its own effect.
        let beneath = if pooled {
            repeatability
        } else {
            self.interaction
        };
        let own = |of: &Source, beneath: &Source, readings: f64| {
            ((of.mean_square() - beneath.mean_square()) / readings).max(0.0)
        };
        let interaction = if pooled {
            0.0
        } else {
            own(&self.interaction, &repeatability, r)
        };
        let operators = own(&self.operators, &beneath, p * r);
        // The gauge's variance is a sum of mean squares, each with its share.
        let [mut of_repeatability, mut of_interaction, mut of_operators] = [1.0, 0.0, 0.0];
        if interaction > 0.0 {
            of_repeatability -= 1.0 / r;
            of_interaction += 1.0 / r;
        }
        if operators > 0.0 {
            of_operators = 1.0 / (p * r);
            *if pooled {
                &mut of_repeatability
            } else {
                &mut of_interaction
            } -= of_operators;
        }
        let parts = [
            (repeatability, of_repeatability),
            (self.interaction, of_interaction),
            (self.operators, of_operators),
        ];
        let part = |(source, share): &(Source, f64)| source.mean_square() * share;
        let whole: f64 = parts.iter().map(part).sum();
        let spread: f64 = parts
            .iter()
            .map(|one| part(one).powi(2) / one.0.degrees_of_freedom)
            .sum();
        Variances {
            repeatability: repeatability.mean_square(),
            operators,
            interaction,
            parts: own(&self.parts, &beneath, o * r),
            repeatability_freedom: repeatability.degrees_of_freedom,
            gauge_freedom: whole * whole / spread,
        }
    }
}

impl Variances {
    /// Of the gauge: repeatability, operators and their interaction with parts.
    pub fn gauge(&self) -> f64 {
        self.repeatability + self.operators + self.interaction
    }

    /// Of the gauge and the parts.
    pub fn total(&self) -> f64 {
        self.gauge() + self.parts
    }
}
