//! Bytes of what is kept: postcard's wire format, version 1.
//!
//! Integers of 16 bits and more are written in groups of seven bits, the lowest first, where a set eighth bit says that more come; signed
//! ones as 2n, below nought as -2n - 1. Structures and arrays are what they hold, a choice is its number and what it holds.
//!
//! postcard reads them. It does not write them here: it puts the groups into an array by index, and only some compilers see that the index
//! never leaves it, so that a path to a panic is left or not, as chance has it.

use core::fmt;

use serde::ser::{
    Error, Impossible, Serialize, SerializeStruct, SerializeStructVariant, SerializeTuple, SerializeTupleStruct,
    SerializeTupleVariant, Serializer,
};

/// It does not fit, or is of a kind that nothing that is kept has: text, maps, floating point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Unfit;

impl fmt::Display for Unfit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("does not fit")
    }
}

impl core::error::Error for Unfit {}

impl Error for Unfit {
    fn custom<T: fmt::Display>(_: T) -> Self {
        Self
    }
}

/// The bytes of something, in front of `room`.
pub(crate) fn write<'a>(it: &impl Serialize, room: &'a mut [u8]) -> Result<&'a [u8], Unfit> {
    let mut writer = Writer { room, length: 0 };
    it.serialize(&mut writer)?;
    let Writer { room, length } = writer;
    room.get(..length).ok_or(Unfit)
}

struct Writer<'a> {
    room: &'a mut [u8],
    length: usize,
}

impl Writer<'_> {
    fn byte(&mut self, byte: u8) -> Result<(), Unfit> {
        *self.room.get_mut(self.length).ok_or(Unfit)? = byte;
        self.length += 1; // below the room's length
        Ok(())
    }

    fn groups(&mut self, mut number: u64) -> Result<(), Unfit> {
        while number >= 0x80 {
            self.byte(number as u8 | 0x80)?;
            number >>= 7;
        }
        self.byte(number as u8)
    }

    /// Apart, because most numbers are narrow and shifts of 128 bits are slow on a small processor.
    fn wide_groups(&mut self, mut number: u128) -> Result<(), Unfit> {
        while number >> 64 != 0 {
            self.byte(number as u8 | 0x80)?;
            number >>= 7;
        }
        self.groups(number as u64)
    }

    /// `T` is written as it is.
    fn part<T: Serialize + ?Sized>(&mut self, it: &T) -> Result<(), Unfit> {
        it.serialize(self)
    }
}

/// Methods that write a number.
macro_rules! numbers {
    ($($name:ident($type:ty) = $write:ident($number:ident => $as:expr);)*) => {
        $(fn $name(self, $number: $type) -> Result<(), Unfit> {
            self.$write($as)
        })*
    };
}

impl Serializer for &mut Writer<'_> {
    type Ok = ();
    type Error = Unfit;
    type SerializeSeq = Impossible<(), Unfit>;
    type SerializeTuple = Self;
    type SerializeTupleStruct = Self;
    type SerializeTupleVariant = Self;
    type SerializeMap = Impossible<(), Unfit>;
    type SerializeStruct = Self;
    type SerializeStructVariant = Self;

    numbers! {
        serialize_bool(bool) = byte(it => u8::from(it));
        serialize_u8(u8) = byte(it => it);
        serialize_i8(i8) = byte(it => it as u8);
        serialize_u16(u16) = groups(it => it.into());
        serialize_u32(u32) = groups(it => it.into());
        serialize_u64(u64) = groups(it => it);
        serialize_u128(u128) = wide_groups(it => it);
        serialize_i16(i16) = serialize_i64(it => it.into());
        serialize_i32(i32) = serialize_i64(it => it.into());
        serialize_i64(i64) = groups(it => ((it << 1) ^ (it >> 63)) as u64);
        serialize_i128(i128) = wide_groups(it => ((it << 1) ^ (it >> 127)) as u128);
    }

    fn serialize_f32(self, _: f32) -> Result<(), Unfit> {
        Err(Unfit)
    }

    fn serialize_f64(self, _: f64) -> Result<(), Unfit> {
        Err(Unfit)
    }

    fn serialize_char(self, _: char) -> Result<(), Unfit> {
        Err(Unfit)
    }

    fn serialize_str(self, _: &str) -> Result<(), Unfit> {
        Err(Unfit)
    }

    fn collect_str<T: fmt::Display + ?Sized>(self, _: &T) -> Result<(), Unfit> {
        Err(Unfit)
    }

    fn serialize_bytes(self, _: &[u8]) -> Result<(), Unfit> {
        Err(Unfit)
    }

    fn serialize_none(self) -> Result<(), Unfit> {
        self.byte(0)
    }

    fn serialize_some<T: Serialize + ?Sized>(self, it: &T) -> Result<(), Unfit> {
        self.byte(1)?;
        self.part(it)
    }

    fn serialize_unit(self) -> Result<(), Unfit> {
        Ok(())
    }

    fn serialize_unit_struct(self, _: &'static str) -> Result<(), Unfit> {
        Ok(())
    }

    fn serialize_unit_variant(self, _: &'static str, number: u32, _: &'static str) -> Result<(), Unfit> {
        self.groups(number.into())
    }

    fn serialize_newtype_struct<T: Serialize + ?Sized>(self, _: &'static str, it: &T) -> Result<(), Unfit> {
        self.part(it)
    }

    fn serialize_newtype_variant<T: Serialize + ?Sized>(
        self,
        _: &'static str,
        number: u32,
        _: &'static str,
        it: &T,
    ) -> Result<(), Unfit> {
        self.groups(number.into())?;
        self.part(it)
    }

    fn serialize_seq(self, _: Option<usize>) -> Result<Self::SerializeSeq, Unfit> {
        Err(Unfit)
    }

    fn serialize_tuple(self, _: usize) -> Result<Self, Unfit> {
        Ok(self)
    }

    fn serialize_tuple_struct(self, _: &'static str, _: usize) -> Result<Self, Unfit> {
        Ok(self)
    }

    fn serialize_tuple_variant(self, _: &'static str, number: u32, _: &'static str, _: usize) -> Result<Self, Unfit> {
        self.groups(number.into())?;
        Ok(self)
    }

    fn serialize_map(self, _: Option<usize>) -> Result<Self::SerializeMap, Unfit> {
        Err(Unfit)
    }

    fn serialize_struct(self, _: &'static str, _: usize) -> Result<Self, Unfit> {
        Ok(self)
    }

    fn serialize_struct_variant(self, _: &'static str, number: u32, _: &'static str, _: usize) -> Result<Self, Unfit> {
        self.groups(number.into())?;
        Ok(self)
    }

    fn is_human_readable(&self) -> bool {
        false
    }
}

/// Parts one after another: nothing before, between or after them.
macro_rules! parts {
    ($($trait:ident::$method:ident($($name:ident: $type:ty)?);)*) => {
        $(impl $trait for &mut Writer<'_> {
            type Ok = ();
            type Error = Unfit;

            fn $method<T: Serialize + ?Sized>(&mut self, $($name: $type,)? it: &T) -> Result<(), Unfit> {
                self.part(it)
            }

            fn end(self) -> Result<(), Unfit> {
                Ok(())
            }
        })*
    };
}

parts! {
    SerializeTuple::serialize_element();
    SerializeTupleStruct::serialize_field();
    SerializeTupleVariant::serialize_field();
    SerializeStruct::serialize_field(_name: &'static str);
    SerializeStructVariant::serialize_field(_name: &'static str);
}

#[cfg(test)]
mod tests {
    extern crate std;

    use super::*;
    use serde::Serialize;

    #[derive(Serialize)]
    enum Choice {
        None,
        One(i16),
        Two(u8, i8),
        Named { flag: bool, number: u16 },
    }

    /// Whatever postcard writes, at the ends of every width and around every group.
    #[test]
    fn the_bytes_are_postcards() {
        let (mut room, mut theirs) = ([0; 128], [0; 128]);
        for bit in 0..128 {
            for less in 0..2 {
                let wide = (1_u128 << bit) - less;
                let (n, signed) = (wide as u64, wide as i64);
                let it = (
                    (wide, wide as i128, !wide as i128),
                    (n, signed, !signed, n as u32, signed as i32, !signed as i32),
                    [n as u16; 3],
                    (signed as i8, Some(n as u8), None::<u8>, ()),
                    [Choice::None, Choice::One(!signed as i16), Choice::Two(n as u8, signed as i8)],
                    Choice::Named { flag: n & 1 == 1, number: n as u16 },
                );
                let theirs = postcard::to_slice(&it, &mut theirs).unwrap();
                let length = theirs.len();
                assert_eq!(write(&it, &mut room), Ok(&*theirs), "{wide}");
                assert_eq!(write(&it, &mut room[..length - 1]), Err(Unfit), "a byte too little");
            }
        }
    }

    #[test]
    fn what_no_record_has_is_refused() {
        let mut room = [0; 16];
        assert_eq!(write(&1.5_f32, &mut room), Err(Unfit));
        assert_eq!(write(&"text", &mut room), Err(Unfit));
        assert_eq!(write(&std::vec![1_u8, 2].as_slice(), &mut room), Err(Unfit), "a list of any length");
    }
}
